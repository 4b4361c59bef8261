package plan

// risks follows the policy through all that may come, and notes how likely
// each mishap is.
func (c *builder) risks(start int) {
	at := map[int]float64{start: 1}
	lost := 0.0
	wait := 0
	for i, x := range c.parts {
		next := map[int]float64{}
		if x.work {
			for s, p := range at {
				next[s+x.node.hands] += p
			}
			at = next
			continue
		}
		w := &c.plan.Waits[wait]
		wait++
		over := map[int]float64{} // when it is ready
		for s, p := range at {
			y := x.node.ways[c.t.best[i][s]]
			outcomes := y.ready(s)
			for _, d := range outcomes {
				share := p / float64(len(outcomes))
				over[s+d] += share
				m := moveAt(c.t.moves(i, y), s+d)
				if m.at < 0 {
					lost += share
					w.TooEarly += share
					continue
				}
				next[m.at] += share
				used := m.at
				if m.held >= 0 {
					used = m.held
				}
				switch off := used - s - d; {
				case off > y.use.hi:
					w.TooEarly += share
				case off < y.use.lo:
					w.TooLate += share
				}
			}
		}
		if !x.cool && !w.Fridge {
			c.unseen(w, over)
		}
		at = next
	}
	c.plan.Late = lost
	for s, p := range at {
		if s > c.p.wished() {
			c.plan.Late += p
		}
	}
}

// unseen finds the times around a wait's end in which the baker cannot act.
func (c *builder) unseen(w *Wait, over map[int]float64) {
	n := len(c.t.g.free)
	for s := 0; s < n; s++ {
		if c.t.g.free[s] {
			continue
		}
		u := Unseen{From: c.p.at(s), Why: c.p.Hours.why(c.p.at(s))}
		from := s
		for s < n && !c.t.g.free[s] {
			s++
		}
		u.To = c.p.at(s)
		for k, p := range over {
			if k >= from && k < s {
				u.P += p
			}
		}
		if u.P > 0.02 {
			w.Unseen = append(w.Unseen, u)
		}
	}
}
