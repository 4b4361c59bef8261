package plan

import (
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"leavend/peak"
)

// tradeHours are the middles of a table of the trade at 20 °C (a trade blog of
// 2025): 1:1:1 in 4 to 6 h, and so on.
var tradeHours = map[float64]float64{1: 5, 2: 6.5, 3: 8, 4: 10, 5: 12, 7: 13, 10: 14}

// trade is a ripening model for tests: the trade's table by the pace of yeast,
// with a standard deviation of the logarithm.
func trade(sd float64) func(Feeding) Ripe {
	return func(f Feeding) Ripe {
		h := tradeHours[f.Ratio.Flour] * peak.Pace(20) / peak.Pace(f.C)
		return func(p float64) time.Duration {
			return time.Duration(h * math.Exp(sd*math.Sqrt2*math.Erfinv(2*p-1)) * float64(time.Hour))
		}
	}
}

var zone = time.FixedZone("CET", 3600)

// moment is a time of the week from Monday 23 November 2026.
func moment(day, hour, minute int) time.Time {
	return time.Date(2026, 11, 23+day, hour, minute, 0, 0, zone)
}

func recipe(name string) Recipe {
	for _, r := range Recipes() {
		if r.Name == name {
			return r
		}
	}
	panic(name)
}

// usual is a baker who sleeps from half past ten to half past six and wants a
// pan loaf on Saturday at half past seven; it is Thursday evening.
func usual() Problem {
	return Problem{
		Now: moment(3, 18, 4), Ready: moment(5, 7, 30), Recipe: recipe("pan loaf"),
		Starter: Starter{FedAt: moment(3, 7, 0)},
		Hours:   Hours{Zone: zone, AsleepFrom: 22*60 + 30, AsleepTo: 6*60 + 30},
		Ratios:  UsualRatios(), StarterAt: []Warmth{{20, false}, {22, true}, {24, true}, {26, true}, {28, true}},
		DoughAt: []Warmth{{20, false}, {22, true}, {24, true}, {26, true}, {28, true}},
		Ripen:   trade(0.1),
		Fixed:   true, // the recipe as it stands; levers have tests of their own
	}
}

// sound holds a plan to what every plan must keep, whatever the problem.
func sound(t *testing.T, p Problem, got Plan) {
	t.Helper()
	last := p.Now
	for _, s := range got.Steps {
		if s.At.Before(last) {
			t.Errorf("%s at %v comes before the step before it ends, %v", s.Name, s.At, last)
		}
		last = s.Until
		for at := s.At; at.Before(s.Until); at = at.Add(time.Minute) {
			if why := p.Hours.Busy(at); why != "" {
				t.Errorf("%s from %v to %v: %s at %v", s.Name, s.At, s.Until, why, at)
				break
			}
		}
		for _, edge := range []time.Time{s.Earliest, s.Latest} {
			if s.Name != IntoFridge && p.Hours.Busy(edge) != "" {
				t.Errorf("%s: its window %v to %v ends while the baker is %s", s.Name, s.Earliest, s.Latest, p.Hours.Busy(edge))
			}
		}
		if s.At.Before(s.Earliest) || s.At.After(s.Latest) {
			t.Errorf("%s at %v is outside its own window %v to %v", s.Name, s.At, s.Earliest, s.Latest)
		}
		if !s.OvenOn.IsZero() && p.Hours.Busy(s.OvenOn) != "" {
			t.Errorf("the oven is to be switched on at %v, %s", s.OvenOn, p.Hours.Busy(s.OvenOn))
		}
	}
	for _, w := range got.Waits {
		if w.Low.After(w.Likely) || w.Likely.After(w.High) || w.Until.Before(w.From) {
			t.Errorf("%s: %v to %v, likely %v, until %v", w.Name, w.Low, w.High, w.Likely, w.Until)
		}
		for _, q := range []float64{w.TooEarly, w.TooLate, got.Late} {
			if q < -1e-9 || q > 1+1e-9 {
				t.Errorf("%s: a probability of %v", w.Name, q)
			}
		}
	}
	if got.Loaf.After(p.Ready) && got.Late < 0.4 {
		t.Errorf("the likely loaf at %v is late, yet said to be so by %v", got.Loaf, got.Late)
	}
}

func find(t *testing.T, p Problem) []Plan {
	t.Helper()
	plans, err := Find(p)
	if err != nil {
		t.Fatal(err)
	}
	for _, one := range plans {
		sound(t, p, one)
	}
	return plans
}

// spell returns how long a wait lasts in a plan.
func spell(t *testing.T, p Plan, name string) (Wait, time.Duration) {
	t.Helper()
	for _, w := range p.Waits {
		if w.Name == name {
			return w, w.Until.Sub(w.From)
		}
	}
	t.Fatalf("the plan has no %s", name)
	return Wait{}, 0
}

func TestBreadOnSaturday(t *testing.T) {
	plans := find(t, usual())
	if len(plans) < 2 {
		t.Fatalf("%d plans, want two or three", len(plans))
	}
	for i, a := range plans {
		if a.Loaf.After(moment(5, 7, 30)) || a.Score() < 60 {
			t.Errorf("plan %d: loaf %v, score %d", i, a.Loaf, a.Score())
		}
		for _, b := range plans[:i] {
			if a.like(b) {
				t.Errorf("plans are alike: %+v and %+v", a.Steps, b.Steps)
			}
			if a.Cost < b.Cost {
				t.Error("a worse plan comes first")
			}
		}
		// Six to eight hours when warm is common practice.
		if w, d := spell(t, a, "bulk"); w.Warmth.C >= 24 && (d < 5*time.Hour || d > 8*time.Hour) {
			t.Errorf("bulk of %v at %g °C", d, w.Warmth.C)
		}
	}
}

// Overnight to about double is common practice for a dough with little
// starter in a cool kitchen.
func TestOvernight(t *testing.T) {
	p := usual()
	p.Recipe, p.Ready, p.DoughAt = recipe("overnight loaf"), moment(5, 12, 0), []Warmth{{20, false}}
	best := find(t, p)[0]
	w, d := spell(t, best, "bulk")
	if d < 9*time.Hour || d > 14*time.Hour {
		t.Errorf("bulk of %v, %v to %v", d, w.From, w.Until)
	}
	if len(w.Unseen) == 0 {
		t.Error("the night is not among the hours in which the baker cannot act")
	}
}

func TestAway(t *testing.T) {
	p := usual()
	p.Hours.Away = []Away{{From: 8 * 60, To: 17 * 60}, {Start: moment(3, 19, 0), End: moment(3, 21, 0)}}
	for _, one := range find(t, p) {
		if one.Score() > 99 {
			t.Errorf("a score of %d for a day away from home", one.Score())
		}
	}
}

// Without a mat and in a cold kitchen all goes by the room's warmth.
func TestNoMat(t *testing.T) {
	p := usual()
	p.StarterAt, p.DoughAt = []Warmth{{17, false}}, []Warmth{{17, false}}
	best := find(t, p)[0]
	if w, d := spell(t, best, "bulk"); w.Warmth.Mat || d < 9*time.Hour {
		t.Errorf("bulk of %v with mat %v in a kitchen of 17 °C", d, w.Warmth.Mat)
	}
}

func TestOutOfTheFridge(t *testing.T) {
	p := usual()
	p.Starter = Starter{FedAt: moment(-6, 7, 0), Chilled: true, Refreshes: 1}
	best := find(t, p)[0]
	var names []string
	for _, s := range best.Steps {
		names = append(names, s.Name)
	}
	if got := strings.Join(names, ", "); !strings.HasPrefix(got, "out of the fridge, feed it first, feed, mix, shape") && !strings.HasPrefix(got, "out of the fridge, feed it first, feed, into the fridge, mix") {
		t.Errorf("the steps are %s", got)
	}
}

// Who is away from the evening to the next noon feeds before, and lets the
// ripe starter wait in the fridge.
func TestHeldStarter(t *testing.T) {
	p := usual()
	p.Ready = moment(4, 22, 20)
	p.Hours.Away = []Away{{Start: moment(3, 22, 0), End: moment(4, 13, 0)}}
	p.StarterAt, p.Ratios = []Warmth{{26, true}}, []Ratio{{1, 1}}
	p.Now = moment(3, 14, 0)
	p.DoughAt = []Warmth{{28, true}}
	best := find(t, p)[0]
	w, _ := spell(t, best, TopName)
	if w.Held.IsZero() {
		t.Errorf("the starter is not put into the fridge: %+v", best.Steps)
	}
	p.NoStarterHold = true
	if plans, err := Find(p); err == nil && plans[0].Cost < best.Cost {
		t.Error("forbidding the fridge makes the plan better")
	}
}

func TestFlourInTheHouse(t *testing.T) {
	p := usual()
	p.Amounts = func(r Ratio, _ float64) (Amounts, error) {
		return Amounts{KeepG: 120 / (1 + r.Flour + r.Water), Flours: []Flour{{"wheat", 120 * r.Flour / (1 + r.Flour + r.Water)}}}, nil
	}
	p.FlourInHouse = []Flour{{"wheat", 545}} // 45 g for the feed: only 1:1:1 takes so little
	for _, one := range find(t, p) {
		if one.Ratio != (Ratio{1, 1}) {
			t.Errorf("ratio %v with 45 g of flour to spare", one.Ratio)
		}
	}
	p.FlourInHouse = []Flour{{"wheat", 400}}
	_, err := Find(p)
	var none *NoPlanError
	if !errors.As(err, &none) || !strings.Contains(err.Error(), "540 g of wheat, and 400 g are in the house") {
		t.Errorf("got %v", err)
	}
}

// What cannot be had says when it could be, and that can then be planned.
func TestTooSoon(t *testing.T) {
	p := usual()
	p.Ready = moment(3, 22, 0)
	_, err := Find(p)
	var none *NoPlanError
	if !errors.As(err, &none) || none.Earliest.IsZero() {
		t.Fatalf("got %v", err)
	}
	p.Ready = none.Earliest
	find(t, p)
	if d := none.Earliest.Sub(p.Now); d < 9*time.Hour || d > 40*time.Hour {
		t.Errorf("the earliest loaf is said to be %v away", d)
	}
}

// On the night when clocks go back the baker sleeps an hour longer by the
// clock's count; work stays outside the hours of sleep all the same.
func TestClockChange(t *testing.T) {
	oslo, err := time.LoadLocation("Europe/Oslo")
	if err != nil {
		t.Skip(err)
	}
	p := usual()
	p.Hours.Zone = oslo
	p.Now = time.Date(2026, 10, 24, 9, 0, 0, 0, oslo)
	p.Ready = time.Date(2026, 10, 25, 12, 0, 0, 0, oslo)
	p.Starter.FedAt = p.Now.Add(-12 * time.Hour)
	for _, one := range find(t, p) {
		if one.Steps[len(one.Steps)-1].Until.After(p.Ready) {
			t.Errorf("the bake ends at %v", one.Steps[len(one.Steps)-1].Until)
		}
	}
}

// The surer the hour of the top, the better the plan; and a plan never gets
// better by forbidding something.
func TestMoreKnownIsNeverWorse(t *testing.T) {
	p := usual()
	p.Hours.Away = []Away{{From: 9 * 60, To: 16 * 60}}
	cost := func(sd float64) float64 {
		p.Ripen = trade(sd)
		return find(t, p)[0].Cost
	}
	if sharp, wide := cost(0.05), cost(0.4); sharp > wide {
		t.Errorf("cost %v with a sharp forecast, %v with a wide one", sharp, wide)
	}
}

func TestAnyProblem(t *testing.T) {
	rng := rand.New(rand.NewPCG(25, 11))
	planned := 0
	for range 24 {
		p := usual()
		p.Now = moment(3, rng.IntN(24), rng.IntN(60))
		p.Ready = p.Now.Add(time.Duration(6+rng.IntN(66))*time.Hour + time.Duration(rng.IntN(60))*time.Minute)
		p.Recipe = Recipes()[rng.IntN(4)]
		p.Cooled = rng.IntN(2) == 0
		p.Ripen = trade(0.05 + 0.3*rng.Float64())
		p.Starter.Chilled = rng.IntN(3) == 0
		p.Hours.AsleepFrom, p.Hours.AsleepTo = rng.IntN(1440), rng.IntN(1440)
		if rng.IntN(2) == 0 {
			p.Hours.Away = []Away{{From: rng.IntN(1440), To: rng.IntN(1440), Days: []time.Weekday{time.Friday, time.Saturday}}}
		}
		p.Fixed = rng.IntN(2) == 0
		plans, err := Find(p)
		var none *NoPlanError
		if err != nil && !errors.As(err, &none) {
			t.Fatal(err)
		}
		for _, one := range plans {
			planned++
			sound(t, p, one)
		}
	}
	if planned < 12 {
		t.Errorf("only %d plans came of 24 problems; this shows little", planned)
	}
}

func TestCheckProblem(t *testing.T) {
	tests := []struct {
		name   string
		change func(*Problem)
		want   string
	}{
		{"past", func(p *Problem) { p.Ready = p.Now }, "is past"},
		{"far", func(p *Problem) { p.Ready = p.Now.AddDate(0, 0, 20) }, "more than 10 days away"},
		{"no stages", func(p *Problem) { p.Recipe.Stages = nil }, `recipe "pan loaf": it has no stages`},
		{"hot", func(p *Problem) { p.DoughAt = []Warmth{{60, true}} }, "60 °C; it must be between 0 and 40"},
		{"no flour in the feed", func(p *Problem) { p.Ratios = []Ratio{{0, 1}} }, "1:0:1 cannot be fed"},
		{"begins with a wait", func(p *Problem) { p.Recipe.Stages = p.Recipe.Stages[1:] }, "comes first, so it must be work"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			p := usual()
			tt.change(&p)
			if _, err := Find(p); err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("got %v, want %q", err, tt.want)
			}
		})
	}
}

func BenchmarkFind(b *testing.B) {
	for range b.N {
		if _, err := Find(usual()); err != nil {
			b.Fatal(err)
		}
	}
}

// The risks that a plan tells are what happens when it is played many times by
// chance, the baker doing what the policy says.
func TestRiskIsWhatHappens(t *testing.T) {
	p := usual()
	p.Ripen = trade(0.3)
	p.Hours.Away = []Away{{From: 12 * 60, To: 18 * 60}}
	v := variant{Problem: p}
	parts, _ := v.parts()
	table := solve(p.grid(), nodes(parts))
	start := valleys(table.value[0])[0]
	told, ok := v.course(table, parts, start)
	if !ok {
		t.Fatal("no plan")
	}
	rng := rand.New(rand.NewPCG(1, 2))
	const plays = 4000
	late, unripe, past := 0.0, 0.0, 0.0
	for range plays {
		s, gone := start, false
		for i, x := range parts {
			if x.work {
				s += x.node.hands
				continue
			}
			y := x.node.ways[table.best[i][s]]
			outcomes := y.ready(s)
			ready := s + outcomes[rng.IntN(len(outcomes))]
			m := moveAt(table.moves(i, y), ready)
			if gone = m.at < 0; gone {
				if x.top {
					past++
				}
				break
			}
			used := m.at
			if m.held >= 0 {
				used = m.held
			}
			if x.top && used-ready > y.use.hi {
				past++
			}
			if x.top && used-ready < y.use.lo {
				unripe++
			}
			s = m.at
		}
		if gone || s > p.wished() {
			late++
		}
	}
	top, _ := spell(t, told, TopName)
	for _, c := range []struct {
		name      string
		told, was float64
	}{{"late", told.Late, late / plays}, {"past its best", top.TooEarly, past / plays}, {"unripe", top.TooLate, unripe / plays}} {
		if off := 4*math.Sqrt(c.told*(1-c.told)/plays) + 1e-9; math.Abs(c.told-c.was) > off {
			t.Errorf("%s: told %.3f, played %.3f", c.name, c.told, c.was)
		}
	}
	if told.Late+top.TooEarly+top.TooLate < 0.05 {
		t.Errorf("nothing can go wrong in this plan, so it shows nothing: %+v", told)
	}
}
