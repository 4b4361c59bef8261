package mqtt

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// CommandKind says what is asked for by topic.
type CommandKind string

// The commands that are understood.
const (
	CommandFed      CommandKind = "fed"      // of a vessel
	CommandSetpoint CommandKind = "setpoint" // of a mat; Command.Value in degrees Celsius
	CommandReady    CommandKind = "ready"    // of a vessel: be ready at the hour in Command.Text, which is empty to forget it
	CommandMode     CommandKind = "mode"     // of a mat; Command.Mode is ModeHeat or ModeOff
	CommandSeen     CommandKind = "seen"     // of either: its message was seen and need not be said again
)

// Command is something asked for by topic. It is well formed, but whoever obeys
// it still checks its range and may refuse it with an error for the asker.
type Command struct {
	Kind    CommandKind
	Subject string // the id of the vessel or mat
	Value   float64
	Mode    string
	Text    string
}

// parseCommand reads the payload of a set topic.
func parseCommand(id string, kind CommandKind, text string) (Command, error) {
	w := Command{Kind: kind, Subject: id}
	text = strings.TrimSpace(text)
	if len(text) > 64 {
		return w, fmt.Errorf("%d bytes are too many", len(text))
	}
	switch kind {
	case CommandFed, CommandSeen:
		// Any payload but a clear no counts: hubs press with a word of theirs.
		switch strings.ToLower(text) {
		case "", "0", "off", "false", "no":
			return w, fmt.Errorf("%q is not a press; send PRESS", text)
		}
		return w, nil
	case CommandReady:
		if seconds := strings.TrimSuffix(text, ":00"); strings.Count(seconds, ":") == 1 && strings.Count(text, ":") == 2 {
			text = seconds // a hub's time control sends 20:00:00
		}
		if w.Text = text; strings.EqualFold(text, "off") {
			w.Text = ""
		} else if text == "" {
			return w, fmt.Errorf("it is empty; send an hour such as 20:00, or off to forget one")
		}
		return w, nil
	case CommandMode:
		w.Mode = strings.ToLower(text)
		if w.Mode != ModeHeat && w.Mode != ModeOff {
			return w, fmt.Errorf("%q: want heat or off", text)
		}
		return w, nil
	case CommandSetpoint:
		v, err := strconv.ParseFloat(text, 64)
		if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
			return w, fmt.Errorf("%q is not a number of degrees Celsius", text)
		}
		w.Value = v
		return w, nil
	}
	return w, fmt.Errorf("%q is not understood", kind)
}
