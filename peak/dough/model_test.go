package dough

import (
	"math"
	"testing"
	"time"

	"leavend/peak/timetopeak"
)

var (
	monday = time.Date(2026, 11, 23, 8, 0, 0, 0, time.UTC)
	pan    = Recipe{Name: "pan loaf", Time: 6*time.Hour + 30*time.Minute, AtC: 25, Rise: 2}
	own    = Recipe{Name: "grandmother's", Time: 5 * time.Hour, AtC: 25, Tried: true}
)

// took is a week's dough of a recipe at a steady warmth.
func took(r Recipe, week int, tempC, rise float64, after time.Duration) Past {
	return Past{Recipe: r, At: monday.AddDate(0, 0, 7*(week-20)), Course: timetopeak.Steady(tempC), Rise: rise, After: after}
}

func factorOf(s timetopeak.Span) float64 { return float64(s.High) / float64(s.Low) }

// Before the first dough the word stands: six to eight hours where it is warm
// to about double, and overnight in a cool room (common practice); to three
// quarters in four to five hours at 25 °C (common practice too).
func TestBeforeTheFirstDough(t *testing.T) {
	tests := []struct {
		name     string
		m        *Model
		r        Recipe
		tempC    float64
		from, to time.Duration // that the interval holds
	}{
		{"a fifth of starter, warm, to double", New(2), Practice(0.2), 25, 6 * time.Hour, 8 * time.Hour},
		{"to three quarters", New(1.75), Practice(0.2), 25, 4 * time.Hour, 5 * time.Hour},
		{"a tenth of starter, overnight in a cool room, to about double", New(2), Practice(0.1), 20, 9 * time.Hour, 12 * time.Hour},
		{"nothing known", New(1.75), Recipe{}, 25, 4 * time.Hour, 5 * time.Hour},
	}
	for _, tt := range tests {
		s := tt.m.ReadyAfter(tt.r, monday, timetopeak.Steady(tt.tempC), 0)
		if s.Low > tt.from || s.High < tt.to || s.Low < tt.from/2 || s.High > 2*tt.to {
			t.Errorf("%s: %v does not hold %v to %v, or holds far more", tt.name, s, tt.from, tt.to)
		}
	}
	if s := New(1.75).ReadyAfter(own, monday, timetopeak.Steady(25), 0); (s.Likely-5*time.Hour).Abs() > 2*time.Minute || factorOf(s) > 1.6 {
		t.Errorf("the baker's own recipe says 5 h at 25 °C, and the model %v", s)
	}
}

// Half the starter takes longer by about the generations that make up for it: the
// logarithm of the dilutions' ratio over the growth rate at 25 °C. That is 0.394 per hour
// for C. milleri (Gänzle, Ehmann and Hammes 1998, as quoted).
func TestShareFollowsDilution(t *testing.T) {
	for _, tt := range []struct{ less, more float64 }{{0.05, 0.1}, {0.1, 0.2}} {
		dilution := func(share float64) float64 { return (1 + 0.67 + share) / share }
		want := math.Log(dilution(tt.less)/dilution(tt.more)) / 0.3936
		if got := (Practice(tt.less).Time - Practice(tt.more).Time).Hours(); math.Abs(got/want-1) > 0.1 {
			t.Errorf("%g in place of %g of starter: %.2f h more, want %.2f", tt.less, tt.more, got, want)
		}
	}
}

// Each dough narrows it and draws it nearer, and odd ones count little.
func TestDoughsNarrow(t *testing.T) {
	m := New(1.75)
	last := m.ReadyAfter(pan, monday, timetopeak.Steady(25), 0)
	for week := range 6 {
		if !m.Learn(took(pan, week, 25, 1.75, 4*time.Hour)) {
			t.Fatal("not learnt")
		}
		now := m.ReadyAfter(pan, monday, timetopeak.Steady(25), 0)
		if factorOf(now) >= factorOf(last) || (now.Likely-4*time.Hour).Abs() >= (last.Likely-4*time.Hour).Abs() {
			t.Errorf("after dough %d of 4 h: %v, before it %v", week+1, now, last)
		}
		last = now
	}
	if m.Doughs() != 6 || (last.Likely-4*time.Hour).Abs() > 15*time.Minute || factorOf(last) > 1.4 {
		t.Errorf("after six doughs of 4 h: %v", last)
	}
	m.Learn(took(pan, 6, 25, 1.75, 9*time.Hour))
	if odd := m.ReadyAfter(pan, monday, timetopeak.Steady(25), 0); odd.Likely > last.Likely+40*time.Minute {
		t.Errorf("one dough of 9 h moves it from %v to %v", last, odd)
	}
}

// What one recipe shows tells of another, though less; and it fades.
func TestOtherRecipesAndTime(t *testing.T) {
	rye := Recipe{Name: "rye tin", Time: 150 * time.Minute, AtC: 27, Rise: 2}
	m := New(1.75)
	fresh := m.ReadyAfter(rye, monday, timetopeak.Steady(25), 0)
	for week := range 6 {
		m.Learn(took(pan, week, 25, 1.75, 4*time.Hour))
	}
	same, other := m.ReadyAfter(pan, monday, timetopeak.Steady(25), 0), m.ReadyAfter(rye, monday, timetopeak.Steady(25), 0)
	if other.Likely >= fresh.Likely || factorOf(other) >= factorOf(fresh) || factorOf(other) <= factorOf(same) {
		t.Errorf("of another recipe: %v at first, %v after six pan loaves (which have %v)", fresh, other, same)
	}
	years := m.ReadyAfter(pan, monday.AddDate(3, 0, 0), timetopeak.Steady(25), 0)
	if factorOf(years) <= factorOf(same) {
		t.Errorf("three years later it is as sure: %v, %v", years, same)
	}
}

// Warmth and target are reckoned with: doughs of a cool week to another target
// say the right thing of a warm one.
func TestWarmthAndTarget(t *testing.T) {
	m := New(2)
	for week := range 4 {
		m.Learn(took(pan, week, 20, 1.75, 8*time.Hour))
	}
	warm, cool := m.ReadyAfter(pan, monday, timetopeak.Steady(26), 0), m.ReadyAfter(pan, monday, timetopeak.Steady(20), 0)
	if cool.Likely < 8*time.Hour+20*time.Minute || cool.Likely > 11*time.Hour {
		t.Errorf("to 1.75 times it took 8 h at 20 °C; to double %v", cool)
	}
	// CTMI of S. cerevisiae (Salvadó et al. 2011): 1.7 times as fast at 26 as at 20 °C.
	if q := float64(cool.Likely) / float64(warm.Likely); q < 1.4 || q > 1.9 {
		t.Errorf("20 against 26 °C: a factor of %.2f", q)
	}
	if doubt := m.ReadyAfter(pan, monday, timetopeak.Steady(26), 2); factorOf(doubt) <= factorOf(warm) {
		t.Errorf("a doubt of 2 °C makes it no wider: %v, %v", doubt, warm)
	}
}

// With one dough and no recipe of its own the mean is the textbook's: prior
// variance over prior variance plus noise.
func TestOneDoughByHand(t *testing.T) {
	m := New(2)
	p := took(Recipe{Time: 6 * time.Hour, AtC: 24, Rise: 2}, 20, 24, 2, 6*time.Hour)
	p.At = monday
	p.After = time.Duration(1.05 * float64(6*time.Hour))
	m.Learn(p)
	p.Recipe.Name = ""
	s := m.ReadyAfter(p.Recipe, monday, timetopeak.Steady(24), 0)
	a := practiceSD * practiceSD
	got := math.Log(s.Likely.Hours() / 6)
	// The noise is learnt too, from a guess that counts for six doughs: between
	// six sevenths of it and all of it.
	lo, hi := math.Log(1.05)*a/(a+whimSD*whimSD), math.Log(1.05)*a/(a+whimSD*whimSD*6/7)
	if got < lo-1e-3 || got > hi+1e-3 {
		t.Errorf("it moves by %.4f, want %.4f to %.4f", got, lo, hi)
	}
}

func TestOddDoughs(t *testing.T) {
	m := New(math.NaN())
	nan := math.NaN()
	for _, r := range []Recipe{{}, pan, own, {Time: -1, AtC: 25}, {Time: 6 * time.Hour, AtC: nan}, {Time: math.MaxInt64, AtC: 25, Rise: 1}} {
		for _, c := range []timetopeak.Course{nil, timetopeak.Steady(nan), timetopeak.Steady(1e9), timetopeak.Steady(-40), timetopeak.Steady(24)} {
			for _, after := range []time.Duration{-1, 0, time.Minute, 5 * time.Hour, math.MaxInt64} {
				for _, rise := range []float64{nan, 0, 1, 1.75, math.Inf(1)} {
					m.Learn(Past{Recipe: r, Course: c, After: after, Rise: rise, At: monday})
				}
			}
			if s := m.ReadyAfter(r, monday, c, 1); !(s.Low > 0 && s.Low <= s.Likely && s.Likely <= s.High && s.High <= longest) {
				t.Fatalf("%+v: %v", r, s)
			}
		}
	}
	if m.Doughs() == 0 || m.Doughs() > mostDoughs {
		t.Errorf("%d doughs", m.Doughs())
	}
}
