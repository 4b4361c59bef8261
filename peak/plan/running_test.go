package plan

import (
	"testing"
	"time"
)

// known is a wait of which the time is known.
func known(d time.Duration) Ripe { return func(float64) time.Duration { return d } }

func TestRunning(t *testing.T) {
	p := usual()
	first := find(t, p)[0]
	top, _ := spell(t, first, TopName)
	feed, mix := first.Steps[0], first.Steps[1]
	running := func(later time.Duration, ready Ripe) Plan {
		q := p
		q.Now = feed.Until.Add(later)
		q.Running = &Running{Wait: TopName, Began: feed.Until, Ratio: first.Ratio, Warmth: top.Warmth, Ready: ready}
		return find(t, q)[0]
	}
	t.Run("as expected, the rest stays", func(t *testing.T) {
		got := running(time.Hour, nil)
		if got.Steps[0].Name != "mix" || got.Steps[0].At.Sub(mix.At).Abs() > 20*time.Minute {
			t.Errorf("first comes %s at %v, planned was the mix at %v", got.Steps[0].Name, got.Steps[0].At, mix.At)
		}
	})
	t.Run("the top comes later, and the mix with it", func(t *testing.T) {
		got := running(time.Hour, known(top.Likely.Sub(feed.Until)+2*time.Hour))
		if d := got.Steps[0].At.Sub(mix.At); d < 80*time.Minute || d > 4*time.Hour {
			t.Errorf("the mix moves by %v for a top two hours later", d)
		}
	})
	t.Run("the top was an hour ago: mix within the next half hour", func(t *testing.T) {
		got := running(4*time.Hour, known(3*time.Hour))
		if d := got.Steps[0].At.Sub(feed.Until.Add(4 * time.Hour)); d > 40*time.Minute {
			t.Errorf("%s only %v after now", got.Steps[0].Name, d)
		}
		if w, _ := spell(t, got, TopName); w.TooEarly > 0.01 {
			t.Errorf("said to be past its best by %v, an hour after the top", w.TooEarly)
		}
	})
	t.Run("the top was five hours ago: nothing is left of it", func(t *testing.T) {
		q := p
		q.Now = feed.Until.Add(8 * time.Hour)
		q.Running = &Running{Wait: TopName, Began: feed.Until, Ratio: first.Ratio, Warmth: top.Warmth, Ready: known(3 * time.Hour)}
		if got, err := Find(q); err == nil {
			t.Errorf("planned all the same: %+v", got[0].Steps)
		}
	})
	t.Run("dough that was mixed an hour late", func(t *testing.T) {
		q := p
		bulk, _ := spell(t, first, "bulk")
		began := bulk.From.Add(time.Hour)
		q.Now = began
		q.Running = &Running{Wait: "bulk", Began: began, Warmth: bulk.Warmth}
		got := find(t, q)[0]
		w, _ := spell(t, got, "bulk")
		if d := w.Likely.Sub(bulk.Likely); d < 40*time.Minute || d > 80*time.Minute || got.Steps[0].Name != "shape" {
			t.Errorf("the bulk is over %v later; first comes %s", d, got.Steps[0].Name)
		}
	})
	t.Run("no such wait", func(t *testing.T) {
		q := p
		q.Running = &Running{Wait: "autolyse", Began: q.Now}
		if _, err := Find(q); err == nil {
			t.Error("planned")
		}
	})
}
