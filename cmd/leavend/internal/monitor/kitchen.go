package monitor

import (
	"context"
	"encoding/json"
	"math"
	"slices"
	"strings"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/store"
	"leavend/peak/dough"
	"leavend/peak/timetopeak"
)

// Kitchen is what was measured of this kitchen; what was not is zero, and plans assume it.
type Kitchen struct {
	Stays      int     // in the fridge, in which the probe went along
	FridgeC    float64 // the middle one of these
	FridgeSlow float64 // how many times as long as assumed a mass takes to cool; 0: not known

	RoomDays int
	RoomC    [24]float64 // by the hour of the day, by the kitchen's clock

	MatFeeds int           // that warmed up on the mat
	MatHalf  time.Duration // in which a jar came half of the way to the mat's setpoint
	MatLiftC float64       // above the room, as far as the mat came that heated all the time; 0: it never did
}

// What is looked at.
const (
	staysLooked = 5              // in the fridge, that the probe went along with
	staysTried  = 15             // of the latest, to find these: without the probe a stay says nothing
	stayLooked  = 12 * time.Hour // of a stay: it has cooled by then
	roomDays    = 14
	leastDays   = 4 // of a room, before its hours count
	feedsLooked = 6
	leastHours  = 3   // of a mat that heated all the time, and moved nothing any more
	stillC      = 0.3 // from hour to hour
	warmLooked  = 4 * time.Hour
)

// KitchenOf measures a kitchen from its history.
func KitchenOf(ctx context.Context, s *store.Store, c *config.Config, jar string, now time.Time) (Kitchen, error) {
	var k Kitchen
	if s == nil {
		return k, nil
	}
	for _, measure := range []func(context.Context, *store.Store, *config.Config, string, time.Time) error{k.fridge, k.room, k.mat} {
		if err := measure(ctx, s, c, jar, now); err != nil {
			return k, err
		}
	}
	return k, nil
}

// stay is a time in which something stood in the fridge.
type stay struct {
	slug string
	from time.Time
}

// fridge measures from the stays of jars and doughs whose probe went along.
func (k *Kitchen) fridge(ctx context.Context, s *store.Store, _ *config.Config, _ string, now time.Time) error {
	stays, err := staysOf(ctx, s)
	if err != nil {
		return err
	}
	var temps, slow []float64
	for _, one := range stays {
		fit, ok, err := settlingOf(ctx, s, one.slug, one.from, earlier(one.from.Add(stayLooked), now))
		if err != nil {
			return err
		}
		if !ok || fit.ToC > fridgeMaxC || fit.ToC > fit.FromC {
			continue
		}
		kg, err := one.kg(ctx, s)
		if err != nil {
			return err
		}
		if temps = append(temps, fit.ToC); kg > 0 {
			slow = append(slow, fit.Slower(kg))
		}
		if k.Stays++; k.Stays == staysLooked {
			break
		}
	}
	k.FridgeC, k.FridgeSlow = median(temps), median(slow)
	return nil
}

// staysOf are the latest times in the fridge, the newest first: of jars as they were noted,
// and of dough that was chilled.
func staysOf(ctx context.Context, s *store.Store) (out []stay, err error) {
	settings, err := s.States.Settings(ctx)
	if err != nil {
		return nil, err
	}
	for _, one := range settings {
		var u Used
		var at time.Time
		slug, jar := strings.CutPrefix(one.Name, FridgeSetting(""))
		bowl := false
		if !jar {
			slug, bowl = strings.CutPrefix(one.Name, usedSetting(""))
		}
		switch {
		case jar && json.Unmarshal(one.Value, &at) == nil && !at.IsZero():
			out = append(out, stay{slug, at})
		case bowl && json.Unmarshal(one.Value, &u) == nil && u.How == DoughChilled:
			out = append(out, stay{slug, u.At})
		}
	}
	slices.SortStableFunc(out, func(a, b stay) int { return b.from.Compare(a.from) })
	return out[:min(len(out), staysTried)], nil
}

// kg is what stood there, by the feed or mixing before; 0 where that is not known.
func (in stay) kg(ctx context.Context, s *store.Store) (float64, error) {
	feeds, err := s.Journal.Feeds(ctx, store.Query{Vessel: in.slug, To: in.from, Limit: 1})
	if err != nil || len(feeds) == 0 || feeds[0].KeptG == 0 {
		return 0, err
	}
	return MixedFeed(feeds[0]).Mix(1).TotalG() / 1000, nil
}

// settlingOf fits the temperature of a vessel between two moments.
func settlingOf(ctx context.Context, s *store.Store, slug string, from, to time.Time) (dough.Settling, bool, error) {
	if !to.After(from) {
		return dough.Settling{}, false, nil
	}
	w, err := s.Readings.Window(ctx, slug, from, to, 150)
	if err != nil {
		return dough.Settling{}, false, err
	}
	var after []time.Duration
	var tempC []float64
	for _, p := range w.Points {
		if st, ok := StatOf(w, p, store.Warmth); ok && !math.IsNaN(st.Mean) {
			after, tempC = append(after, p.At.Sub(from)), append(tempC, st.Mean)
		}
	}
	fit, ok := dough.FitSettling(after, tempC)
	return fit, ok, nil
}

// room measures the room by the hour of the day: by its probe, or else by a vessel that
// stands on no mat.
func (k *Kitchen) room(ctx context.Context, s *store.Store, c *config.Config, jar string, now time.Time) error {
	if err := k.roomBy(ctx, s, c, jar, store.RoomTemp, now); err != nil {
		return err
	}
	for _, v := range c.Vessels {
		if k.RoomDays > 0 || c.Mat.Heats() && c.Mat.Vessel == v.Name {
			continue
		}
		if err := k.roomBy(ctx, s, c, v.Slug, store.Warmth, now); err != nil {
			return err
		}
	}
	return nil
}

// noRoomC is what no room in use is below: a vessel that is colder stands in the fridge.
const noRoomC = 10

// roomBy measures it by one of a vessel's temperatures.
func (k *Kitchen) roomBy(ctx context.Context, s *store.Store, c *config.Config, slug string, by store.Channel, now time.Time) error {
	w, err := s.Readings.Window(ctx, slug, now.AddDate(0, 0, -roomDays), now, roomDays*24)
	if err != nil {
		return err
	}
	var sum, n [24]float64
	days := map[string]bool{}
	for _, p := range w.Points {
		if st, ok := StatOf(w, p, by); ok && st.Mean >= noRoomC {
			at := p.At.In(c.Timezone)
			sum[at.Hour()], n[at.Hour()] = sum[at.Hour()]+st.Mean, n[at.Hour()]+1
			days[at.Format(time.DateOnly)] = true
		}
	}
	if slices.Contains(n[:], 0) || len(days) < leastDays {
		return nil
	}
	for h := range 24 {
		k.RoomC[h] = sum[h] / n[h]
	}
	k.RoomDays = len(days)
	return nil
}

// RoomMean is the room's mean temperature; false where it was not measured.
func (k Kitchen) RoomMean() (mean float64, measured bool) {
	for _, c := range k.RoomC {
		mean += c / 24
	}
	return mean, k.RoomDays > 0
}

// mat measures how fast a jar warms up on its mat after a feed.
func (k *Kitchen) mat(ctx context.Context, s *store.Store, c *config.Config, jar string, now time.Time) error {
	on, ok := c.Vessel(c.Mat.Vessel)
	if !ok || !c.Mat.Heats() {
		return nil
	}
	if err := k.lift(ctx, s, c, on.Slug, now); err != nil || on.Slug != jar {
		return err
	}
	feeds, err := s.Journal.Feeds(ctx, store.Query{Vessel: jar, Limit: feedsLooked})
	if err != nil {
		return err
	}
	var halves []time.Duration
	for _, f := range feeds {
		fit, ok, err := settlingOf(ctx, s, jar, f.At, earlier(f.At.Add(warmLooked), now))
		if err != nil {
			return err
		}
		if ok && fit.ToC > fit.FromC {
			halves = append(halves, fit.Halves)
		}
	}
	k.MatFeeds, k.MatHalf = len(halves), median(halves)
	return nil
}

// lift measures how far above the room the mat comes that heats for hours on end: its limit,
// whatever it is asked to hold.
func (k *Kitchen) lift(ctx context.Context, s *store.Store, c *config.Config, slug string, now time.Time) error {
	w, err := s.Readings.Window(ctx, slug, now.AddDate(0, 0, -roomDays), now, roomDays*24)
	if err != nil {
		return err
	}
	var lifts []float64
	before := math.NaN() // the hour before, where the mat heated through it
	for _, p := range w.Points {
		on, known := StatOf(w, p, store.MatOn)
		vessel, seen := StatOf(w, p, store.Warmth)
		if !known || !seen || on.Mean < 1 {
			before = math.NaN()
			continue
		}
		room := k.RoomC[p.At.In(c.Timezone).Hour()]
		if st, ok := StatOf(w, p, store.RoomTemp); ok {
			room = st.Mean
		}
		if room > 0 && math.Abs(vessel.Mean-before) <= stillC {
			lifts = append(lifts, vessel.Mean-room)
		}
		before = vessel.Mean
	}
	if len(lifts) >= leastHours {
		k.MatLiftC = median(lifts)
	}
	return nil
}

// Half is in what time a jar comes half of the way to another temperature on the mat.
func (k Kitchen) Half() time.Duration {
	if k.MatFeeds == 0 {
		return jarHalf
	}
	return k.MatHalf
}

// Cooling is how a dough of a mass cools in this fridge; what was not measured is as the
// config has it, or assumed.
func (k Kitchen) Cooling(assumedC, kg float64) dough.Cooling {
	c := dough.Cooling{FridgeC: assumedC, MassKg: kg}
	if k.Stays > 0 {
		c.FridgeC = k.FridgeC
	}
	if k.FridgeSlow > 0 {
		c.Halves = time.Duration(k.FridgeSlow * math.Ln2 * float64(c.In()))
	}
	return c
}

// Course is the room's temperature from a moment on, where it is on the whole so warm.
func (k Kitchen) Course(meanC float64, from time.Time, zone *time.Location) timetopeak.Course {
	if k.RoomDays == 0 {
		return timetopeak.Steady(meanC)
	}
	day, _ := k.RoomMean()
	return func(after time.Duration) float64 { return meanC - day + k.RoomC[from.Add(after).In(zone).Hour()] }
}

func earlier(a, b time.Time) time.Time {
	if a.Before(b) {
		return a
	}
	return b
}
