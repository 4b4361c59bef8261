package mqtt

import (
	"slices"
	"strings"
)

// PlugAccess is what the broker must know of the plug that heats. Only our own
// client may command it. With a user of its own, only that user may speak as
// the plug.
type PlugAccess struct {
	User          string   // the plug's login; "" where it has none of its own
	CommandTopics []string // topic filters of all that could switch it or set it up
	StateTopics   []string // topic filters of what it tells of itself
	Bridge        bool     // its login belongs to a bridge that listens for other devices too
}

// plugSubscribes reports whether the plug has asked the broker for a topic: by a
// group's topic or its own address it can be commanded as well, and which these
// are only it knows. A bridge asks for the topics of all its devices.
func (d *authHook) plugSubscribes(topic string) bool {
	if d.plug.Bridge || anyMatches(d.open, topic) {
		return false
	}
	for _, cl := range d.server.Clients.GetAll() {
		if isOwn(cl) || string(cl.Properties.Username) != d.plug.User {
			continue
		}
		for filter := range cl.State.Subscriptions.GetAll() {
			// A plug that asks for everything must not silence everybody.
			if wide := strings.HasPrefix(filter, "#") || strings.HasPrefix(filter, "+"); !wide && folded(filter, topic) {
				return true
			}
		}
	}
	return false
}

// anyMatches reports whether one of the filters matches topic in any case of
// letters: a plug may not tell them apart where the broker does.
func anyMatches(filters []string, topic string) bool {
	return slices.ContainsFunc(filters, func(f string) bool { return folded(f, topic) })
}

func folded(filter, topic string) bool {
	return matches(strings.ToLower(filter), strings.ToLower(topic))
}
