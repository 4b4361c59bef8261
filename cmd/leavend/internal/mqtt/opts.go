package mqtt

import (
	"crypto/tls"
	"log/slog"
	"time"

	"leavend/cmd/leavend/internal/event"
)

// Opts are the settings of a Client that have defaults.
type Opts struct {
	Prefix   string                // first levels of every topic of ours; default leavend
	Login    func() (Login, error) // fetched for each connection; default none
	ClientID string                // how the client id begins; default leavend
	Vessels  []VesselInfo
	Mats     []MatInfo
	Version  string              // of the program, for the about topic
	Events   *event.Log          // what happens; default: one in memory, of the client's own
	Command  func(Command) error // obeys what is asked for by topic, or says why not; default: no command is taken
	Log      *slog.Logger        // default: none

	Discovery       bool   // announce our devices to a home hub; off takes an earlier announcement back
	DiscoveryPrefix string // default homeassistant
	PageURL         string // of our own page, for the hub to link to
}

// Login is how the client is let into a broker.
type Login struct {
	User, Password string
	TLS            *tls.Config // for mqtts://; nil is the system's certificates, TLS 1.2 or later
}

// VesselInfo is what does not change about a jar or bowl.
type VesselInfo struct {
	ID   string // fit for a topic, as config.Slug makes it
	Name string // as the baker calls it
	Kind string // jar or bowl
	Mat  bool   // it stands on a mat, which can heat it to be ready at an hour
}

// MatInfo is what does not change about a mat.
type MatInfo struct {
	ID, Name   string
	MinC, MaxC float64 // the setpoints that may be asked for
}

// ids returns the ids of all vessels, and of all mats.
func (o Opts) ids() (vessels, mats []string) {
	vessels, mats = []string{}, []string{}
	for _, v := range o.Vessels {
		vessels = append(vessels, v.ID)
	}
	for _, m := range o.Mats {
		mats = append(mats, m.ID)
	}
	return vessels, mats
}

// Stats are the client's counters since New, and how it stands now.
type Stats struct {
	Connected       bool
	Connections     uint64    // made since New; more than one is a reconnection
	Since           time.Time // of the present connection, or of its loss
	Trouble         string    // why there is no connection; empty while there is one
	NoLogin         bool      // a file that the login needs cannot be read: a password, a certificate
	EventsWaiting   int
	EventsSent      uint64
	EventsLost      uint64 // too many waited
	StatesWaiting   int
	StatesSent      uint64
	StatesStale     uint64 // replaced by a newer one before they were sent
	PlugCommands    uint64 // plug commands handed to the network
	PlugRefused     uint64 // plug commands refused for want of a connection
	Commands        uint64 // commands obeyed
	CommandsRefused uint64 // commands refused: retained, malformed or out of range
	InboundLost     uint64 // messages that came faster than their reader
}

// timing holds the client's time limits. Only tests change it.
type timing struct {
	connect   time.Duration // to open the connection and be let in
	ack       time.Duration // for the broker to confirm a message
	command   time.Duration // for a command to reach the network
	write     time.Duration // for anything else to reach it
	keepAlive time.Duration
	goodbye   time.Duration // to say offline at the end
	firstWait time.Duration // between attempts; doubles up to lastWait
	lastWait  time.Duration

	birthSpread time.Duration // before a hub's birth is answered, at most
	retained    time.Duration // how long the broker may take to send what it has retained
}

func usualTiming() timing {
	return timing{
		connect: 10 * time.Second, ack: 10 * time.Second, command: 2 * time.Second, write: 5 * time.Second,
		keepAlive: 10 * time.Second, goodbye: 2 * time.Second,
		firstWait: time.Second, lastWait: 30 * time.Second,
		birthSpread: birthSpread, retained: 10 * time.Second,
	}
}
