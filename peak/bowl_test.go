package peak

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"leavend/sensor/sim/simtest"
)

// leaven is an invented dough in a bowl with its target.
type leaven struct {
	rows  []sample
	ratio float64
	at    float64 // hours from the first row at which it stands at its target
}

// inventBowl draws a dough whose rise follows a family's curve.
func inventBowl(f family, r *rand.Rand) leaven {
	k := newScene(r)
	base, ratio := uniform(r, 45, 90), uniform(r, 1.4, 2)
	rise := base * (ratio - 1) * uniform(r, 1.15, 2)
	grid, _ := k.lay(f.make(r, math.Exp(math.Log(7)+0.2*r.NormFloat64()), rise), 0, 30)
	want, at := base*(ratio-1), 0.0
	for at < 29 && gridAt(grid, at) < want {
		at += 1.0 / 240
	}
	rows := k.record(at+2, func(h float64) float64 { return base + gridAt(grid, h) }, nil, nil)
	rows[0].fed = true
	return leaven{rows, ratio, at}
}

// kitchenBowl is a dough of the simulated kitchen; false where it never comes
// near twice its height.
func kitchenBowl(seed uint64) (leaven, bool) {
	k := simtest.DoughInBowl(seed)
	r := rand.New(rand.NewPCG(seed, 31))
	f := &k.Truth.Feeds[0]
	ratio := 1 + (f.Ratio-1)*uniform(r, 0.5, 0.85)
	if f.Ratio < 1.5 {
		return leaven{}, false
	}
	rec := fromKitchen(k)
	for i, h := range k.Heights() {
		rec.rows[i].height = h
	}
	for i, h := range k.Truth.HeightMM {
		if h >= ratio*f.StartMM {
			at := (time.Duration(i)*k.Truth.Every - f.FedAfter).Hours()
			last := int((at+2)/k.Truth.Every.Hours()) + 1
			return leaven{rec.rows[:min(last, len(rec.rows))], ratio, at}, true
		}
	}
	return leaven{}, false
}

// bowlScore gathers what was said of doughs.
type bowlScore struct {
	n, called     int
	delay         []float64
	miss          [3][]float64 // at 45, 60 and 80 % of the way
	held, offered int
}

var bowlStages = [3]float64{0.45, 0.6, 0.8}

func (s *bowlScore) add(t *testing.T, b leaven) {
	s.n++
	first := b.rows[0].at
	hour := func(at time.Time) float64 { return at.Sub(first).Hours() }
	var last [3]Event
	done := false
	for _, e := range runRows(b.rows, Opts{Kind: Bowl, FloorKnown: true, TargetRatio: b.ratio}) {
		switch e.Kind {
		case EventTarget:
			done = true
			s.called++
			s.delay = append(s.delay, (hour(e.At)-b.at)*60)
		case EventForecast:
			if done {
				t.Error("a forecast after the target")
			}
			for i, share := range bowlStages {
				if hour(e.At) <= share*b.at {
					last[i] = e
				}
			}
		case EventPeak:
			t.Error("a bowl has no peak")
		}
	}
	for i, e := range last {
		if e.At.IsZero() {
			continue
		}
		s.miss[i] = append(s.miss[i], math.Abs(hour(e.PeakAt)-b.at)*60)
		s.offered++
		if hour(e.Low) <= b.at && b.at <= hour(e.High) {
			s.held++
		}
	}
}

func (s *bowlScore) String() string {
	out := fmt.Sprintf("%d of %d called, delay %.1f %.1f %.1f min; forecast off by", s.called, s.n,
		percentile(s.delay, 10), percentile(s.delay, 50), percentile(s.delay, 90))
	for i, share := range bowlStages {
		out += fmt.Sprintf(" %.0f/%.0f min at %.0f %% (given %d),", percentile(s.miss[i], 50), percentile(s.miss[i], 90), 100*share, len(s.miss[i]))
	}
	return out + fmt.Sprintf(" interval held %d of %d", s.held, s.offered)
}

// TestBowl: dough in a bowl is called within a few minutes of its target, and
// the forecast before it is honest.
func TestBowl(t *testing.T) {
	simtest.NotUnderRace(t)
	var drawn, simulated bowlScore
	for seed := range uint64(campaignSize(40)) {
		drawn.add(t, inventBowl(families[seed%2], rand.New(rand.NewPCG(seed, 17))))
		if b, ok := kitchenBowl(seed); ok && seed%2 == 0 {
			simulated.add(t, b)
		}
	}
	t.Logf("drawn:     %s", &drawn)
	t.Logf("simulated: %s", &simulated)
	for _, s := range []*bowlScore{&drawn, &simulated} {
		if s.called != s.n {
			t.Errorf("called %d of %d", s.called, s.n)
		}
		if d := percentile(s.delay, 50); math.Abs(d) > 4 {
			t.Errorf("median delay %.1f min, want at most 4", d)
		}
		if d := percentile(s.delay, 90); d > 15 {
			t.Errorf("delay at the 90th percentile %.1f min, want at most 15", d)
		}
	}
	if share := float64(drawn.held+simulated.held) / float64(drawn.offered+simulated.offered); share < 0.65 || share > 0.95 {
		t.Errorf("the interval held the target in %.0f %%, want about 80", 100*share)
	}
}
