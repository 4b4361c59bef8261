package peak

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"leavend/peak/growth"
	"leavend/sensor/sim/simtest"
)

// fedEarly is a recording that begins with an old jar in its place; it is taken
// away, fed and put back lower within the first 45 minutes, and no feed is marked.
// While it is away the table is seen, or nothing at all.
func fedEarly(seed uint64) (rows []sample, fed float64) {
	r := rand.New(rand.NewPCG(seed, 51))
	fed = uniform(r, 5, 45) / 60
	away, drop := uniform(r, 2, 9)/60, uniform(r, 8, 60)
	base, blind := -uniform(r, 110, 160), r.IntN(2) == 0
	c := domeCurve(r, logUniform(r, 4, 9), uniform(r, 30, 80))
	noise, wander := logUniform(r, 0.3, 1.5), sensorWanderMM*uniform(r, 0, 1)
	w, keep := 0.0, math.Exp(-15.0/3600/sensorWanderTau)
	for i := range 14 * 240 {
		h := float64(i) / 240
		w = keep*w + math.Sqrt(1-keep*keep)*wander*r.NormFloat64()
		y := base + drop
		switch {
		case h >= fed:
			y = base + c(h-fed)
		case h >= fed-away:
			y = base - 50
		}
		y = math.Round(y + w + noise*r.NormFloat64())
		if blind && h >= fed-away && h < fed {
			y = math.NaN()
		}
		rows = append(rows, sample{at: starts.Add(time.Duration(i) * 15 * time.Second), height: y, temp: 22})
	}
	return rows, fed
}

// TestFedEarly: a feed is found when the jar came down soon after the start.
func TestFedEarly(t *testing.T) {
	simtest.NotUnderRace(t)
	found, invented, n := 0, 0, campaignSize(20)
	for seed := range uint64(n) {
		rows, fed := fedEarly(seed)
		for _, e := range runRows(rows, Opts{}) {
			if e.Kind != EventFed {
				continue
			}
			if math.Abs(e.FeedAt.Sub(starts).Hours()-fed) < 25.0/60 {
				found++
			} else {
				invented++
			}
		}
	}
	t.Logf("%d of %d feeds found, %d invented", found, n, invented)
	if found < n*8/10 || invented > n/20 {
		t.Errorf("%d of %d feeds found, %d invented", found, n, invented)
	}
}

// TestForecastAtTheFeed: a starter with a past has a forecast within minutes of
// its feed, before anything has risen.
func TestForecastAtTheFeed(t *testing.T) {
	past := Feed{WarmHours: 6, RiseMM: 50, MeanTempC: 24, Curve: make([]float32, curveParts)}
	for k := range past.Curve {
		past.Curve[k] = float32(k+1) / curveParts
	}
	d := New(Opts{History: []Feed{past, past, past}})
	d.Fed(starts)
	for i := range 40 {
		d.Add(starts.Add(time.Duration(i)*15*time.Second), -150, 24)
	}
	f, ok := d.Forecast()
	if !ok {
		t.Fatal("no forecast ten minutes after the feed")
	}
	want := 6 / growth.Pace(24)
	if got := f.PeakAt.Sub(starts).Hours(); math.Abs(got-want) > 0.1 {
		t.Errorf("peak after %.2f h, want %.2f as in the past", got, want)
	}
	if half := f.High.Sub(f.Low).Hours() / 2; half < 0.3 || half > 2 {
		t.Errorf("half the interval is %.2f h", half)
	}
}
