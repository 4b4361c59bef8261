package config

import "time"

// MQTT is the broker: our own, or another one by its address.
type MQTT struct {
	On        bool
	URL       string // of another broker, mqtt:// or mqtts://; "" is the broker in the daemon
	Listen    string // address of the broker in the daemon
	ListenTLS string // the same over TLS; "" is none

	User, ClientID string
	Password       Secret
	CAFile         string // of another broker: who vouches for it; "" is the system's list
	CertFile       string // our certificate: as a client, or as the broker in the daemon
	KeyFile        string

	Prefix          string // first level of all our topics
	Discovery       bool   // announce ourselves to a home hub
	DiscoveryPrefix string
}

// Embedded reports whether the daemon runs a broker of its own.
func (m MQTT) Embedded() bool { return m.On && m.URL == "" }

// local reports whether our own broker can be reached from this board only.
func (m MQTT) local() bool {
	return m.Embedded() && Loopback(m.Listen) && (m.ListenTLS == "" || Loopback(m.ListenTLS))
}

// TLSMode says where the page's certificate comes from.
type TLSMode string

// The ways to have a certificate.
const (
	TLSOff      TLSMode = "off"
	TLSSelfMade TLSMode = "self-made" // made at first start and kept in DataDir
	TLSFiles    TLSMode = "files"
)

// Web is the page.
type Web struct {
	On       bool
	Listen   string
	TLS      TLSMode
	CertFile string
	KeyFile  string
	OpenRead bool     // whoever reaches the page may look without a password
	Hosts    []string // names the page is reached by, beside the board's own name and addresses
}

// Metrics is the page for a metrics collector.
type Metrics struct {
	On            bool
	Listen        string
	WebConfigFile string // TLS and logins, as the exporter toolkit describes; "" is neither
}

// NoticeKind is one kind of message to the baker.
type NoticeKind string

// The kinds of messages.
const (
	HeadsUp      NoticeKind = "heads-up"       // the peak comes in HeadsUp
	OnTop        NoticeKind = "top"            // the peak is here
	StartsToFall NoticeKind = "falling"        // after the peak, and not acknowledged
	TargetSoon   NoticeKind = "target-soon"    // when the dough will be at its target
	Target       NoticeKind = "target"         // the dough is at its target
	NearRim      NoticeKind = "near-rim"       // what rises comes near the rim of its vessel
	FeedDue      NoticeKind = "feed-due"       // the starter wants feeding
	CleanJarDue  NoticeKind = "clean-jar-due"  // the jar wants washing
	DiscardOld   NoticeKind = "discard-old"    // the discard jar holds old discard
	FridgeCheck  NoticeKind = "fridge-check"   // a jar is not where the journal has it
	SwitchWorn   NoticeKind = "switch-worn"    // the mat's switch wants replacing
	PlanStep     NoticeKind = "plan"           // a step of the chosen plan is due
	MatFault     NoticeKind = "mat-fault"      // the mat is off because something is wrong
	SensorFault  NoticeKind = "sensor-fault"   // a sensor does not answer
	BackToNormal NoticeKind = "back-to-normal" // a fault is over
	StoreTrouble NoticeKind = "store-trouble"  // readings cannot be written
)

// NoticeKinds returns all kinds, in the order of the reference.
func NoticeKinds() []NoticeKind {
	return []NoticeKind{HeadsUp, OnTop, StartsToFall, TargetSoon, Target, NearRim, FeedDue, CleanJarDue, DiscardOld, FridgeCheck, SwitchWorn, PlanStep, MatFault, SensorFault, BackToNormal, StoreTrouble}
}

// Recipient is somebody who is told, and how.
type Recipient struct {
	Name        string
	URL         Secret        // a service URL, or https:// for a webhook
	Key         Secret        // signs a webhook's body; unset is unsigned
	Kinds       []NoticeKind  // what they are told
	QuietFrom   ClockTime     // in quiet hours only mat faults pass
	QuietTo     ClockTime     // equal to QuietFrom is no quiet hours
	HeadsUp     time.Duration // before the peak
	RepeatEvery time.Duration // until somebody comes; 0 is once
	Repeats     int           // at most so many repeats
	MaxPerHour  int           // beyond it messages are gathered into one
	QuietUpkeep bool          // a peak that no bake waits for is told once
}
