package peak

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// ahead is what was forecast at a moment, as it is stated: calmed, and before
// its interval is widened.
type ahead struct {
	q      [3]float64
	y      float64 // the logarithm of what was left
	late   float64 // the same of what was left to the end of the ripe time
	way    float64
	norm   float64 // hours from feed to peak
	per    float64 // hours to the peak for one of left
	spread spread
	known  bool // the starter has past feeds
	alone  bool // they alone forecast
	kind   string
}

// lookAhead returns what a network forecasts of rides.
func (l *learner) lookAhead(rides []ride) []ahead {
	parts := make([][]ahead, len(rides))
	inParallel(len(rides), func(i int) { parts[i] = l.lookAlong(&rides[i]) })
	var all []ahead
	for _, p := range parts {
		all = append(all, p...)
	}
	return all
}

// lookAlong follows one ride as the detector does: the network, then calm.
func (l *learner) lookAlong(r *ride) (out []ahead) {
	d := l.newDesk()
	var f forecaster
	for j := range r.moments {
		m := &r.moments[j]
		if m.left == 0 {
			break
		}
		a := ahead{y: math.Log(float64(m.left) + forecastSoft), way: float64(m.way), norm: float64(m.norm), known: r.known, alone: m.alone, kind: r.kind}
		a.per = (1 - a.way) * a.norm / float64(m.left)
		a.late = math.Log(float64(m.left) + float64(m.late)/a.per + forecastSoft)
		o := m.q[:]
		if !m.alone {
			o = l.forward(d, m.in[:])
		}
		a.q = [3]float64{float64(o[0]), float64(o[1]), float64(o[2])}
		slices.Sort(a.q[:])
		a.spread = spread{f.settle(&a.q, float64(m.since), float64(m.since), float64(m.warm)), float64(m.doubt)}
		out = append(out, a)
	}
	return out
}

// holds reports whether the interval holds the peak under the given widths, and
// whether who comes at its begin is in time.
func (a *ahead) holds(widths []float32) (held, inTime bool) {
	q := a.q
	a.spread.widen(&q, widths)
	return q[0] <= a.y && a.y <= q[2], q[0] <= a.late
}

// widths are those that a model has for the moment.
func (m *model) widthsAt(a *ahead) []float32 {
	if a.alone {
		return m.limits[limitProfile:limitBowl]
	}
	return m.widths(a.known)
}

// missesAt are how far off the forecasts are at a stage of the way, in minutes.
func missesAt(all []ahead, share float64) (median, p90 float64) {
	var off []float64
	for _, a := range all {
		if math.Abs(a.way-share) > stageReach {
			continue
		}
		hours := func(y float64) float64 { return max(math.Exp(y)-forecastSoft, 0) * a.per }
		off = append(off, 60*math.Abs(hours(a.q[1])-hours(a.y)))
	}
	return percentile(off, 50), percentile(off, 90)
}

// stageReach is how far from a stage of the way a moment may lie to count for it.
const stageReach = 0.04

// chooseWidths sets the factors of the interval's halves, apart for new
// starters, for known ones, and for a forecast from past feeds alone.
func chooseWidths(all []ahead, m *model) {
	var fresh, known, alone []ahead
	for _, a := range all {
		switch {
		case a.alone:
			alone = append(alone, a)
		case a.known:
			known = append(known, a)
		default:
			fresh = append(fresh, a)
		}
	}
	fitWidths(fresh, m.limits[limitNew:limitKnown])
	fitWidths(known, m.limits[limitKnown:limitProfile])
	fitWidths(alone, m.limits[limitProfile:limitBowl])
}

// fitWidths goes factor by factor towards what the interval is to hold at each
// stage of the true way, which the forecast cannot see.
func fitWidths(all []ahead, widths []float32) {
	for i := range widths {
		widths[i] = 1
	}
	if len(widths) == widthCount {
		widths[2*widenStages], widths[2*widenStages+1] = 0.3, 0.3
	}
	at := newStages(all)
	off := at.off(widths)
	for by := float32(1.3); by > 1.01; by = 1 + (by-1)*0.7 {
		for again := true; again; {
			again = false
			for i := range widths {
				for _, factor := range [...]float32{by, 1 / by} {
					was := widths[i]
					widths[i] = min(max(was*factor, 0.05), 6)
					if now := at.off(widths); now < off-1e-3 {
						off, again = now, true
					} else {
						widths[i] = was
					}
				}
			}
		}
	}
}

// stages holds the moments near each stage of the way. Each kind of curve
// counts alike.
type stages struct {
	moments [len(stagesOfWay)][]ahead
	weights [len(stagesOfWay)]map[string]float64
}

func newStages(all []ahead) *stages {
	var s stages
	for i, share := range stagesOfWay {
		s.weights[i] = map[string]float64{}
		for _, a := range all {
			if math.Abs(a.way-share) < stageReach {
				s.moments[i] = append(s.moments[i], a)
				s.weights[i][a.kind]++
			}
		}
		for kind, n := range s.weights[i] {
			s.weights[i][kind] = 1 / (n * float64(len(s.weights[i])))
		}
	}
	return &s
}

// shares are what intervals hold at a stage, how many are in time, and how wide
// they are.
func (s *stages) shares(i int, widths []float32) (held, inTime, wide float64) {
	for k := range s.moments[i] {
		a := &s.moments[i][k]
		w := s.weights[i][a.kind]
		h, t := a.holds(widths)
		if h {
			held += w
		}
		if t {
			inTime += w
		}
		q := a.q
		a.spread.widen(&q, widths)
		wide += w * (q[2] - q[0])
	}
	return 100 * held, 100 * inTime, wide
}

// stageCounts is how much each of stagesOfWay counts.
var stageCounts = [len(stagesOfWay)]float64{1, 1, 1, 1, 0.4, 0.2}

const (
	heldTarget   = 80 // % of intervals that are to hold the peak
	inTimeTarget = 98 // % of those who come at the interval's begin that are to be in time
)

// off is how far the intervals are from what they should hold, and a little for
// how wide they are.
func (s *stages) off(widths []float32) (off float64) {
	for i, counts := range stageCounts {
		if len(s.moments[i]) < 20 {
			continue
		}
		held, inTime, wide := s.shares(i, widths)
		late := max(inTimeTarget-inTime, 0)
		off += counts * ((held-heldTarget)*(held-heldTarget) + 4*late*late + 4*wide)
	}
	if len(widths) == widthCount {
		for i := range widenStages - 1 { // a factor that leaps fits these curves and no others
			low, high := math.Log(float64(widths[i+1]/widths[i])), math.Log(float64(widths[widenStages+i+1]/widths[widenStages+i]))
			off += 3 * (low*low + high*high)
		}
	}
	return off
}

// describeWidths tells what intervals hold, kind by kind, at the four stages
// that are reported.
func describeWidths(all []ahead, m *model) string {
	var b strings.Builder
	for _, group := range []struct {
		name string
		in   func(*ahead) bool
	}{{"new", func(a *ahead) bool { return !a.known && !a.alone }}, {"known", func(a *ahead) bool { return a.known && !a.alone }}, {"past alone", func(a *ahead) bool { return a.alone }}} {
		kinds := map[string][]ahead{}
		for i := range all {
			if group.in(&all[i]) {
				kinds[all[i].kind] = append(kinds[all[i].kind], all[i])
				kinds["all"] = append(kinds["all"], all[i])
			}
		}
		for _, kind := range sortedKeys(kinds) {
			s := newStages(kinds[kind])
			fmt.Fprintf(&b, "  %-10s %-10s", group.name, kind)
			for i := range heldStages {
				if n := len(s.moments[i]); n > 0 {
					held, inTime, _ := s.shares(i, m.widthsAt(&s.moments[i][0]))
					med, p90 := missesAt(kinds[kind], stagesOfWay[i])
					fmt.Fprintf(&b, " | %5d off %3.0f/%3.0f held %3.0f in time %3.0f", n, med, p90, held, inTime)
				}
			}
			b.WriteByte('\n')
		}
	}
	return b.String()
}
