package mqtt

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// CommandKind says what somebody asks for by topic.
type CommandKind string

// The wishes that are understood.
const (
	CommandFed      CommandKind = "fed"      // of a vessel
	CommandSetpoint CommandKind = "setpoint" // of a mat; Command.Value in degrees Celsius
	CommandReady    CommandKind = "ready"    // of a vessel: be ready at the hour in Command.Text, which is empty to forget it
	CommandMode     CommandKind = "mode"     // of a mat; Command.Mode is ModeHeat or ModeOff
	CommandSeen     CommandKind = "seen"     // of either: somebody has seen its message, which need not be said again
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

// subscribeCommands listens on each set topic of our own vessels and mats.
func (c *Client) subscribeCommands() {
	if c.opts.Command == nil {
		return
	}
	for _, v := range c.opts.Vessels {
		c.listen(v.ID, CommandFed)
		c.listen(v.ID, CommandReady)
		c.listen(v.ID, CommandSeen)
	}
	for _, m := range c.opts.Mats {
		c.listen(m.ID, CommandSetpoint)
		c.listen(m.ID, CommandMode)
		c.listen(m.ID, CommandSeen)
	}
}

func (c *Client) listen(id string, kind CommandKind) {
	// The filter has no wildcard and passed checkIDs, so this cannot fail.
	_ = c.subscribe(c.topics.Set(id, kind), 1, func(in Inbound) {
		if in.Retained && len(in.Payload) == 0 {
			return
		}
		c.answer(id, kind, c.wish(id, kind, in))
	})
}

// wish reads what was asked and has it obeyed.
func (c *Client) wish(id string, kind CommandKind, in Inbound) error {
	if in.Retained {
		return fmt.Errorf("a retained message is not obeyed; publish it without retain, and clear %s", in.Topic)
	}
	w, err := parseCommand(id, kind, string(in.Payload))
	if err != nil {
		return err
	}
	return c.opts.Command(w)
}

// answer counts the wish, says why it was refused, and in any case sends the
// state again, so that a switch drawn as turned turns back.
func (c *Client) answer(id string, kind CommandKind, err error) {
	if err != nil {
		c.tell.commandsRefused.Add(1)
		c.log.Warn("refused a wish", "subject", id, "wish", string(kind), "err", err)
		c.Event(Event{At: time.Now(), Subject: id, Kind: EventRefused, Text: fmt.Sprintf("%s: %s", kind, err)})
	} else {
		c.tell.wishes.Add(1)
	}
	c.queue.again(c.topics.State(id))
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
