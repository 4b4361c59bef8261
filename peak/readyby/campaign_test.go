package readyby

import (
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"testing"
	"time"

	"leavend/peak"
)

// feeds is how many feeds the campaign steers, from which seed on. The table
// in RESULTS.md comes from
//
//	go test ./peak/readyby -run TestCampaign -v -feeds 200 -from 50001
var (
	feeds = flag.Int("feeds", 0, "how many feeds to steer in the campaign")
	from  = flag.Uint64("from", 1, "its first seed; those below 1000 were looked at while choosing")
)

// beforehand is the fixed setpoint that the same model chooses at the feed.
func beforehand(goal time.Duration) policy {
	return policy{begin: func(s *Controller, now time.Time) float64 {
		must(s.SetReadyBy(now, s.fedAt.Add(goal)))
		return s.Advise(now, Observation{ReadAt: now}).SetpointC
	}}
}

// steered follows the advice.
func steered(goal time.Duration, log func(string)) policy {
	p := beforehand(goal)
	p.then = func(s *Controller, v Observation, now time.Time) float64 {
		set := s.setC
		a := s.Advise(now, v)
		if since := now.Sub(s.fedAt); log != nil && since%(30*time.Minute) == 0 && a.Reason >= OnCourse && a.Reason <= TooLate {
			p, q := s.fromPrior(now, max(set, 22)), left{}
			if v.HasForecast {
				q = s.fromForecast(now, v.Forecast)
			}
			log(fmt.Sprintf("   %v T %.1f prior %.2f±%.2f forecast %.2f±%.2f both %.2f: %v", since, s.tempC, p.work, p.sd, q.work, q.sd, s.remaining(now, v).work, a))
		}
		return a.SetpointC
	}
	return p
}

// reach is the margin by which a wish lies within what the coolest and the
// warmest constant setpoint give. Such a wish is reachable.
const reach = 20 * time.Minute

// TestCampaign steers feeds of the simulated kitchen to wishes drawn evenly
// from what is reachable, and beside each lets the same feed run on a fixed
// setpoint that the same model chose at the feed.
func TestCampaign(t *testing.T) {
	if *feeds == 0 {
		t.Skip("a campaign of minutes: -feeds 200")
	}
	var fixed, moved tally
	seed := *from
	for ; moved.n < *feeds; seed++ {
		tr, ok := newTrial(seed)
		if !ok {
			continue
		}
		early := tr.play(hold(UsualLimits().WarmestC)).top + reach
		late := tr.play(hold(UsualLimits().CoolestC)).top - reach
		if late-early < reach {
			continue
		}
		goal := early + time.Duration(rand.New(rand.NewPCG(seed, 5)).Float64()*float64(late-early)).Round(time.Minute)
		a := tr.play(beforehand(goal))
		var lines []string
		b := tr.play(steered(goal, func(l string) { lines = append(lines, l) }))
		fixed.add(a, goal)
		moved.add(b, goal)
		if os.Getenv("STEER_EACH") != "" {
			fmt.Printf("%d: %v to %v, wish %v: fixed %+.0f, steered %+.0f min, on top %v to %v\n", seed, early, late, goal, (a.top - goal).Minutes(), (b.top - goal).Minutes(), b.lo, b.hi)
			if b.missed(goal) > 20*time.Minute {
				for _, l := range lines {
					fmt.Println(l)
				}
			}
		}
	}
	t.Logf("%d feeds of %d drawn\nfixed beforehand: %v\nsteered:          %v", moved.n, seed-*from, fixed, moved)
}

// TestDoughCampaign steers doughs, of which nothing is known, to the hour of
// waking.
func TestDoughCampaign(t *testing.T) {
	if *feeds == 0 {
		t.Skip("a campaign of minutes: -feeds 200")
	}
	cool := New(Opts{Kind: peak.Bowl}).coolest()
	var fixed, moved tally
	seed := *from
	for ; moved.n < *feeds; seed++ {
		tr, ok := newDough(seed)
		if !ok {
			continue
		}
		early := tr.play(hold(UsualLimits().WarmestC)).top + reach
		late := min(tr.play(hold(cool)).top, 14*time.Hour) - reach
		if late-early < reach {
			continue
		}
		goal := early + time.Duration(rand.New(rand.NewPCG(seed, 5)).Float64()*float64(late-early)).Round(time.Minute)
		a, b := tr.play(beforehand(goal)), tr.play(steered(goal, nil))
		fixed.add(a, goal)
		moved.add(b, goal)
		if os.Getenv("STEER_EACH") != "" {
			fmt.Printf("dough %d: %v to %v, wish %v: fixed %+.0f, steered %+.0f min\n", seed, early, late, goal, (a.top - goal).Minutes(), (b.top - goal).Minutes())
		}
	}
	t.Logf("%d doughs of %d drawn\nfixed beforehand: %v\nsteered:          %v", moved.n, seed-*from, fixed, moved)
}

// tally counts how runs met their wishes.
type tally struct {
	n, highest, near, onTop int
	missed                  []time.Duration
}

func (c *tally) add(r run, goal time.Duration) {
	c.n++
	c.missed = append(c.missed, r.missed(goal))
	if r.missed(goal) <= 20*time.Minute {
		c.highest++
	}
	if r.stood(goal) <= 20*time.Minute {
		c.near++
	}
	if r.stood(goal) == 0 {
		c.onTop++
	}
}

func (c tally) String() string {
	m := slices.Sorted(slices.Values(c.missed))
	return fmt.Sprintf("highest within 20 min of the wish %.0f %%, on its peak within 20 min of it %.0f %%, at the very minute %.0f %%; highest missed by %.0f min (median), %.0f (90 %%)",
		100*float64(c.highest)/float64(c.n), 100*float64(c.near)/float64(c.n), 100*float64(c.onTop)/float64(c.n), m[len(m)/2].Minutes(), m[len(m)*9/10].Minutes())
}

// TestOneFeed is the campaign's machinery on one feed.
func TestOneFeed(t *testing.T) {
	tr, ok := newTrial(3)
	if !ok {
		t.Fatal("no trial")
	}
	goal := 8*time.Hour + 13*time.Minute
	if r := tr.play(steered(goal, nil)); r.missed(goal) > 20*time.Minute {
		t.Errorf("the top came at %v; wished %v", r.top, goal)
	}
}
