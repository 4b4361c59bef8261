package peak

// pauses remembers what the curve did on its way up that looked like a top
// and was none: a stretch in which it slowed down and then sped up again, and
// a dip that it climbed out of. A curve that has paused once may pause again.
type pauses struct {
	fast    float64 // greatest speed of the steady track so far, mm/h
	slow    float64 // least speed since then
	slowAt  float64 // hours of it
	spurt   float64 // greatest gain of speed after a slow stretch, as a share of the greatest speed
	spurtAt float64 // hours of it
	slowH   float64 // height then, mm
	still   float64 // hours since then at less than a seventh of the greatest speed
	last    float64 // hours of the last state
	dip     float64 // greatest drop below the high that was made good, mm
	drop    float64 // the present one's depth
}

// see takes in the state after a minute: the height, the speed, and how far
// the height is below the feed's high.
func (p *pauses) see(now, h, speed, below float64) {
	if speed > p.fast {
		p.fast, p.slow, p.slowAt, p.slowH, p.still = speed, speed, now, h, 0
	}
	if speed < p.slow {
		p.slow, p.slowAt, p.slowH = speed, now, h
	}
	if speed < p.fast/7 {
		p.still += min(now-p.last, 0.25)
	}
	p.last = now
	if gain := (speed - p.slow) / max(p.fast, 0.1); gain > p.spurt {
		p.spurt, p.spurtAt = gain, now
	}
	if below <= 0 {
		p.dip, p.drop = max(p.dip, p.drop), 0
	}
	p.drop = max(p.drop, below)
}
