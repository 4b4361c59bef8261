//go:build !race

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

// feeds is how many feeds a campaign steers. Without it a test steers a few, and 50 with
// LEAVEND_LONG=1.
var feeds = flag.Int("feeds", 0, "how many feeds to steer in a campaign")

// heldBack is the first seed of a campaign; those below 1000 were looked at while
// choosing.
const heldBack = 50001

// beforehand is the fixed setpoint that the same model chooses at the feed.
func beforehand(goal time.Duration) policy {
	return policy{begin: func(s *Controller, now time.Time) float64 {
		must(s.SetReadyBy(now, s.fedAt.Add(goal)))
		return s.Advise(now, Observation{ReadAt: now}).SetpointC
	}}
}

// steered follows the advice.
func steered(goal time.Duration) policy {
	p := beforehand(goal)
	p.then = func(s *Controller, v Observation, now time.Time) float64 { return s.Advise(now, v).SetpointC }
	return p
}

const (
	// reach is the margin by which a target time lies within what the coolest and the warmest
	// constant setpoint give. Such a time is reachable.
	reach = 20 * time.Minute
	// onTime is how far from the hour the time on the peak may lie.
	onTime = 20 * time.Minute
)

// campaign steers feeds to target times drawn evenly from what is reachable, and beside each
// lets the same feed run on a fixed setpoint that the same model chose at the feed, and
// without a mat.
type campaign struct {
	draw     func(seed uint64) (trial, bool)
	coolestC float64
	longest  time.Duration // no target time is later; 0 is no limit
	few      int           // feeds in the short version
}

// tallies are how the three ways of warming did.
type tallies struct{ steered, fixed, noMat tally }

func (c campaign) run(t *testing.T) tallies {
	n := c.few
	switch {
	case *feeds > 0:
		n = *feeds
	case os.Getenv("LEAVEND_LONG") == "1":
		n = 50
	}
	var all tallies
	seed := uint64(heldBack)
	for ; all.steered.n < n; seed++ {
		tr, ok := c.draw(seed)
		if !ok {
			continue
		}
		early := tr.play(hold(UsualLimits().WarmestC), 0).top + reach
		late := tr.play(hold(c.coolestC), 0).top - reach
		if c.longest > 0 {
			late = min(late, c.longest-reach)
		}
		if late-early < reach {
			continue
		}
		goal := early + time.Duration(rand.New(rand.NewPCG(seed, 5)).Float64()*float64(late-early)).Round(time.Minute)
		all.fixed.add(tr.play(beforehand(goal), goal), goal)
		all.steered.add(tr.play(steered(goal), goal), goal)
		all.noMat.add(tr.play(hold(0), goal), goal)
	}
	t.Logf("%d feeds of %d drawn\nsteered:  %v\nfixed:    %v\nno mat:   %v", n, seed-heldBack, all.steered, all.fixed, all.noMat)
	return all
}

// holds demands that of the steered feeds so many in a hundred stand on their peak within
// the margin of the target time, and by how many more than with the fixed setpoint and without a
// mat. Of a few feeds only a gross fault can be told.
func (a tallies) holds(t *testing.T, least, overFixed, overNoMat float64) {
	if a.steered.n < 40 {
		least, overFixed, overNoMat = 50, 0, 0
	}
	steered, fixed, noMat := a.steered.share(a.steered.within), a.fixed.share(a.fixed.within), a.noMat.share(a.noMat.within)
	if steered < least || steered < fixed+overFixed || steered < noMat+overNoMat {
		t.Errorf("within %v of the target time: steered %.0f %%, fixed %.0f %%, no mat %.0f %%; want at least %.0f %%, and %.0f and %.0f points more than the others",
			onTime, steered, fixed, noMat, least, overFixed, overNoMat)
	}
	if a.steered.onPeak < a.fixed.onPeak {
		t.Errorf("on their peaks around the target time for %v steered, and for %v at the fixed setpoint", a.steered.onPeak, a.fixed.onPeak)
	}
}

// TestCampaign steers starters that keep to their record.
func TestCampaign(t *testing.T) {
	campaign{draw: newTrial, coolestC: UsualLimits().CoolestC, few: 2}.run(t).holds(t, 90, 0, 50)
}

// TestHardCampaign steers starters on which a setpoint chosen beforehand goes wrong.
func TestHardCampaign(t *testing.T) {
	campaign{draw: harder, coolestC: UsualLimits().CoolestC, few: 5}.run(t).holds(t, 85, 10, 50)
}

// TestDoughCampaign steers doughs, of which nothing is known, to the hour of waking.
func TestDoughCampaign(t *testing.T) {
	campaign{draw: newDough, coolestC: New(Opts{Kind: peak.Bowl}).coolest(), longest: 14 * time.Hour, few: 4}.run(t).holds(t, 80, 30, 30)
}

// tally counts how runs met their target times.
type tally struct {
	n, highest, within, atHour int
	missed                     []time.Duration
	onPeak                     time.Duration // within the onTime margin of the hour, of all
	warmed                     float64       // degree-hours, of all
}

func (c *tally) add(r run, goal time.Duration) {
	c.n++
	c.missed = append(c.missed, r.missed(goal))
	c.onPeak += r.onPeak(goal, onTime)
	c.warmed += r.warmed
	if r.missed(goal) <= onTime {
		c.highest++
	}
	if r.stood(goal) <= onTime {
		c.within++
	}
	if r.stood(goal) == 0 {
		c.atHour++
	}
}

// share is a count in percent.
func (c tally) share(n int) float64 { return 100 * float64(n) / float64(c.n) }

func (c tally) String() string {
	m := slices.Sorted(slices.Values(c.missed))
	return fmt.Sprintf("on its peak within 20 min of the target time %.0f %%, at the very hour %.0f %%, for %.0f of the 40 min; highest within 20 min %.0f %%, missed by %.0f min (median), %.0f (90 %%); %.0f degree-hours",
		c.share(c.within), c.share(c.atHour), c.onPeak.Minutes()/float64(c.n), c.share(c.highest), m[len(m)/2].Minutes(), m[len(m)*9/10].Minutes(), c.warmed/float64(c.n))
}
