package notify

import "time"

// expect tells each recipient who wants it that a peak or a target is near.
func (r *rules) expect(o Outlook) {
	v := r.vessel(o.Vessel)
	if v.Called || o.At.IsZero() {
		return
	}
	now := r.now()
	for _, p := range r.people {
		r.headsUp(now, p, v, o)
		r.soon(now, p, v, o)
	}
}

// maxHeadsUpUpdates is how often a heads-up is sent again. It is a guess that two messages
// before a peak are as many as anyone wants.
const maxHeadsUpUpdates = 1

// movedBy is how far a forecast must move to be told again.
const movedBy = 15 * time.Minute

// headsUp posts to one recipient that the peak is near, and again when the
// forecast has moved since.
func (r *rules) headsUp(now time.Time, p Recipient, v *vesselState, o Outlook) {
	told, before := v.HeadsUp[p.Name]
	near := p.HeadsUp > 0 && o.At.Sub(now) <= p.HeadsUp && o.At.After(now)
	moved := before && o.At.Sub(told).Abs() > movedBy && o.At.After(now) && v.Again[p.Name] < maxHeadsUpUpdates
	if !moved && (before || !near) || !p.wants(HeadsUp) || p.upkeep(o.Bowl, o.Bake) {
		return
	}
	if o.Bake && p.wants(PlanStep) {
		return // the plan told its hours, and the message of the peak names what comes next
	}
	v.HeadsUp[p.Name], r.changed = o.At, true
	if before {
		v.Again[p.Name]++
	}
	r.post(onlyTo(p), Notice{Kind: HeadsUp, Vessel: o.Vessel, Name: o.Name, Bowl: o.Bowl, At: o.At, Low: o.Low, High: o.High, PreviousAt: told})
}

// Dough's target is told ahead once: two hours before, or half an hour before
// the recipient's quiet hours where it falls into those or after them.
const (
	soonBefore  = 2 * time.Hour
	bedtimeLead = 30 * time.Minute
)

func (r *rules) soon(now time.Time, p Recipient, v *vesselState, o Outlook) {
	if !o.Bowl || v.Soon[p.Name] || !o.At.After(now) || !p.wants(TargetSoon) {
		return
	}
	zone := r.zone
	bedtime := !p.quiet(now, zone) && p.quiet(now.Add(bedtimeLead), zone)
	if o.Bake && p.wants(PlanStep) && !bedtime {
		return // the plan told its hours, as of a peak
	}
	if o.At.Sub(now) > soonBefore && !(bedtime && o.At.Sub(now) > bedtimeLead) {
		return
	}
	v.Soon[p.Name], r.changed = true, true
	r.post(onlyTo(p), Notice{Kind: TargetSoon, Vessel: o.Vessel, Name: o.Name, Bowl: true, At: o.At, Low: o.Low, High: o.High})
}
