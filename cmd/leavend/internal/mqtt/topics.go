package mqtt

import (
	"fmt"
	"strings"

	"leavend/cmd/leavend/internal/config"
)

// Topics names every topic below one prefix.
type Topics struct {
	Prefix string // without a slash at either end
}

// DefaultPrefix is the first level of our topics unless the config says
// otherwise.
const DefaultPrefix = "leavend"

// Status returns the topic of the daemon's own availability.
func (t Topics) Status() string { return t.Prefix + "/status" }

// About returns the topic of what the daemon is.
func (t Topics) About() string { return t.Prefix + "/about" }

// Daemon returns the retained topic of the daemon's own state.
func (t Topics) Daemon() string { return t.Prefix + "/state" }

// State returns the retained state topic of a vessel or mat.
func (t Topics) State(id string) string { return t.Prefix + "/" + id + "/state" }

// Available returns the topic that says whether the sensors of a vessel answer.
func (t Topics) Available(id string) string { return t.Prefix + "/" + id + "/available" }

// Event returns the event topic of a vessel or mat.
func (t Topics) Event(id string) string { return t.Prefix + "/" + id + "/event" }

// Set returns the topic that takes commands of one kind for a vessel or mat.
func (t Topics) Set(id string, kind CommandKind) string {
	return t.Prefix + "/" + id + "/" + string(kind) + "/set"
}

// reserved are the names that stand beside vessels and mats in the tree.
var reserved = [...]string{"status", "about", "state"}

// checkPrefix returns an error unless p can begin a topic.
func checkPrefix(p string) error {
	if p == "" || strings.HasPrefix(p, "/") || strings.HasSuffix(p, "/") || strings.HasPrefix(p, "$") {
		return fmt.Errorf("mqtt: prefix %q: must not be empty, nor begin with / or $, nor end with /", p)
	}
	if err := CheckTopic(p); err != nil {
		return fmt.Errorf("mqtt: prefix: %w", err)
	}
	return nil
}

// CheckTopic returns an error unless a message can be published to t: MQTT
// 3.1.1, section 4.7 forbids wildcards and NUL, and limits the length to
// 65,535 bytes; we stop far earlier.
func CheckTopic(t string) error {
	switch {
	case t == "":
		return fmt.Errorf("topic is empty")
	case len(t) > 1024:
		return fmt.Errorf("topic of %d bytes is longer than 1024", len(t))
	case strings.ContainsAny(t, "+#\x00"):
		return fmt.Errorf("topic %q must not hold +, # or NUL", t)
	case strings.ToValidUTF8(t, "") != t:
		return fmt.Errorf("topic %q is not UTF-8", t)
	}
	return nil
}

// checkIDs returns an error unless every id can be one topic level and none
// stands twice.
func checkIDs(ids ...string) error {
	seen := make(map[string]bool, len(ids)+len(reserved))
	for _, r := range reserved {
		seen[r] = true
	}
	for _, id := range ids {
		if id == "" || id != config.Slug(id) {
			return fmt.Errorf("mqtt: name %q: want lower-case letters, digits and - only, such as %q", id, config.Slug(id))
		}
		if seen[id] {
			return fmt.Errorf("mqtt: name %q: is taken; vessels and mats share one tree with %s", id, strings.Join(reserved[:], ", "))
		}
		seen[id] = true
	}
	return nil
}

// matches reports whether topic falls under filter, by the rules of MQTT
// 3.1.1, section 4.7.
func matches(filter, topic string) bool {
	if strings.HasPrefix(topic, "$") && !strings.HasPrefix(filter, "$") {
		return false
	}
	for {
		f, restF, moreF := strings.Cut(filter, "/")
		if f == "#" {
			return true
		}
		t, restT, moreT := strings.Cut(topic, "/")
		if f != "+" && f != t {
			return false
		}
		if !moreT {
			return !moreF || restF == "#"
		}
		if !moreF {
			return false
		}
		filter, topic = restF, restT
	}
}
