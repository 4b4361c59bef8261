package heating

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"time"

	"leavend/control/plug"
)

// noteVersion is the form that Note has now. Version 1 named neither the
// process's start nor the data folder, and of a plug no more than its commands.
const noteVersion = 2

// NoteName is the note's name in the runtime folder, or in the data folder
// where there is none.
const NoteName = "mat.json"

// Note is what the daemon leaves when it opens a mat's output, so that the mat
// can be switched off without config and daemon. Low is off: only active-high
// lines exist here.
type Note struct {
	Version int       `json:"version"`
	PID     int       `json:"pid"`
	Started uint64    `json:"started,omitempty"`  // when the process started, in the kernel's ticks: a number is used again
	DataDir string    `json:"data_dir,omitempty"` // where the daemon looks for a word to stay off
	None    bool      `json:"none,omitempty"`     // this daemon has no mat
	Line    *Line     `json:"line,omitempty"`
	Plug    *Plug     `json:"plug,omitempty"`
	OffAt   time.Time `json:"off_at,omitzero"` // the daemon ended, and the output was off
	Written time.Time `json:"written"`
}

// Line is a GPIO output.
type Line struct {
	Chip string `json:"chip"` // path; empty for the board's main chip
	Line string `json:"line"` // offset or name
}

// String names the line for people.
func (l Line) String() string { return "line " + l.Line }

// Plug is an MQTT plug: where its broker is, and how it is spoken to. The
// password stands here because the config may be gone; the file is readable by
// its owner alone.
type Plug struct {
	Broker   string         `json:"broker"` // mqtt://host:1883; empty for the daemon's own, which ends with it
	User     string         `json:"user,omitempty"`
	Password string         `json:"password,omitempty"`
	CAFile   string         `json:"ca_file,omitempty"`
	CertFile string         `json:"cert_file,omitempty"`
	KeyFile  string         `json:"key_file,omitempty"`
	Kind     string         `json:"kind,omitempty"`   // of a ready recipe
	Topic    string         `json:"topic,omitempty"`  // with Kind
	Relay    int            `json:"relay,omitempty"`  // with Kind
	Custom   *plug.Custom   `json:"custom,omitempty"` // in place of Kind
	Echo     time.Duration  `json:"echo_ns,omitempty"`
	Off      []plug.Message `json:"off"`      // all that version 1 knew
	Lease    time.Duration  `json:"lease_ns"` // after which the plug lets go by itself
}

// Recipe is how the plug is spoken to; ok is false in a note of version 1.
func (p Plug) Recipe() (r plug.Recipe, ok bool, err error) {
	switch {
	case p.Custom != nil:
		r, err = p.Custom.Recipe()
	case p.Kind != "":
		r, err = plug.ByName(p.Kind, p.Topic, p.Relay)
	default:
		return r, false, nil
	}
	return r, true, err
}

// WriteNote leaves the note at path for this process. The daemon calls it
// before it opens the output.
func WriteNote(path string, n Note) error {
	n.Version, n.PID, n.Written = noteVersion, os.Getpid(), time.Now()
	n.Started, _ = ProcessStart(n.PID) // 0 where there is no /proc
	b, err := json.Marshal(n)
	if err == nil {
		err = WriteFile(path, append(b, '\n'))
	}
	if err != nil {
		return fmt.Errorf("the note of the mat's output: %w", err)
	}
	return nil
}

// NoteOff notes that the daemon has ended and the output was off.
func NoteOff(path string, at time.Time) error {
	n, err := ReadNote(path)
	if err != nil || n.PID != os.Getpid() {
		return err
	}
	n.OffAt = at
	return WriteNote(path, n)
}

// ReadNote reads the note at path. A note that names no output, or that
// another version has written, is an error.
func ReadNote(path string) (n Note, err error) {
	b, err := os.ReadFile(path)
	if err != nil {
		return n, err
	}
	if err := json.Unmarshal(b, &n); err != nil {
		return n, fmt.Errorf("%s cannot be understood: %w", path, err)
	}
	switch {
	case n.Version < 1 || n.Version > noteVersion:
		return n, fmt.Errorf("%s was written by another version of leavend (its form is %d)", path, n.Version)
	case n.Line == nil && n.Plug == nil && !n.None:
		return n, fmt.Errorf("%s: %w", path, errors.New("it names no output"))
	}
	return n, nil
}
