package notify

import "time"

// A fault is told when it begins. Its end is told once it has stayed away for
// a while; if it comes back before, that is the same trouble, counted and not
// told, except for a summary now and then. So a sensor with a loose cable
// sends one message and a summary.
const (
	settleFor  = 10 * time.Minute
	stillEvery = 6 * time.Hour
)

func incidentKey(h Event) string { return h.Vessel + "|" + string(h.Fault) + "|" + h.Part }

// alarmRaised takes in the begin of a fault.
func (r *rules) alarmRaised(h Event) {
	r.changed = true
	t := r.state.Incidents[incidentKey(h)]
	if t != nil {
		if !t.Unsure {
			t.Times++
		}
		if needsAck(t.Kind) && !t.Unsure && !t.Stands {
			r.expectAck(t.notice()) // it counts as said, and is said again if it stays
		}
		t.Stands, t.Unsure, t.Changed, t.Text = !t.Passes, false, h.At, h.Text
		return
	}
	t = &incident{Subject: h.Vessel, Name: h.Name, Kind: h.Fault, Text: h.Text, Since: h.At, Changed: h.At, NotifiedAt: r.now(), Times: 1, Stands: !h.Passes, Passes: h.Passes}
	r.state.Incidents[incidentKey(h)] = t
	note := t.notice()
	if needsAck(h.Fault) && !h.Passes {
		r.postForAck(note)
		return
	}
	r.post(nil, note)
}

func (t *incident) notice() Notice {
	return Notice{Kind: t.Kind, Vessel: t.Subject, Name: t.Name, At: t.Since, Text: t.Text}
}

// alarmCleared takes in the end of a fault.
func (r *rules) alarmCleared(h Event) {
	if t := r.state.Incidents[incidentKey(h)]; t != nil {
		t.Stands, t.Unsure, t.Changed, r.changed = false, false, h.At, true
		if !r.standing(t.Subject, t.Kind) {
			delete(r.state.PendingAcks, string(t.Kind)+"/"+t.Subject)
		}
	}
}

// closeIncidents looks which troubles are over.
func (r *rules) closeIncidents(now time.Time) {
	for key, t := range r.state.Incidents {
		note := Notice{Kind: Normal, Vessel: t.Subject, Name: t.Name, At: t.Since, Until: t.Changed, Fault: t.Kind, Text: t.Text, Times: t.Times}
		switch {
		case t.Passes && now.Sub(t.Changed) >= stillEvery:
			delete(r.state.Incidents, key)
			r.changed = true
		case t.Passes:
		case !t.Stands && now.Sub(t.Changed) >= settleFor:
			delete(r.state.Incidents, key)
			r.changed = true
			r.post(nil, note)
		case t.Times > 1 && now.Sub(t.NotifiedAt) >= stillEvery && now.Sub(t.Changed) < stillEvery:
			t.NotifiedAt, r.changed = now, true
			note.Stays, note.Until = true, now
			r.post(nil, note)
		}
	}
}

// standing reports whether a subject has a trouble of a kind that stands.
func (r *rules) standing(subject string, k Kind) bool {
	for _, t := range r.state.Incidents {
		if t.Stands && t.Subject == subject && t.Kind == k {
			return true
		}
	}
	return false
}
