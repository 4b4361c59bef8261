package timetopeak

import (
	"fmt"
	"math"
	"time"
)

// Past is a feed that has come to its top.
type Past struct {
	Feed   Feed
	Course Course        // the temperatures it had
	Top    time.Duration // from the feed to the top
}

// Model is what is known of one starter. It is not safe for concurrent use.
type Model struct {
	table  *table
	lines  [responses]line
	weight [responses]float64
	feeds  int
	usual  Feed // the last feed whose weights were known
}

// New returns a model that has seen no feed.
func New() *Model {
	m := &Model{table: newTable(), weight: responseWeight, usual: Mixed(1, 2, 2)}
	for k := range m.lines {
		m.lines[k] = newLine(k)
	}
	return m
}

// work returns the time from feed to top in units of one over the growth
// rate: ln of the dilution and the rest. With the rate of K. humilis at 20 °C
// a rest of 0.05 puts every row of the trade's table (1:1:1 in 4 to 6 h ...
// 1:10:10 in 12 to 16 h) near its middle.
func work(dilution float64) float64 { return math.Log(max(dilution, 1.2)) + workRest }

const workRest = 0.05

// Doubt about what was not said, as a standard deviation of the logarithm.
const (
	doubtRatio      = 0.35 // the ratio, with no feed to go by
	doubtUsualRatio = 0.08 // the same, when the one before is taken
)

// hungry is how long a starter keeps out of the fridge before it weakens.
const hungry = 24 * time.Hour

// view is one feed as the lines see it.
type view struct {
	base  float64 // log of the warm hours at 20 °C before the terms
	x     signs
	doubt float64 // variance
}

// see works a feed into terms.
func (m *Model) see(f Feed, c Course) view {
	v := view{}
	if !f.known() {
		sd := doubtUsualRatio
		if m.feeds == 0 {
			sd = doubtRatio
		}
		v.doubt = sd * sd
		f.StarterG, f.WaterG, f.Flours = m.usual.StarterG, m.usual.WaterG, m.usual.Flours
	}
	w := work(f.dilution())
	v.base = math.Log(w / perHour)
	v.x[byLiveliness] = 1
	v.x[byRest] = 1 / w
	v.x[byWater] = min(max(f.hydration()-1, -0.6), 1)
	v.x[byBran] = f.whole()
	chilled := min(max(f.Chilled, 0), max(f.Rested, f.Chilled))
	v.x[byHunger] = math.Log2(1 + max(f.Rested-chilled-hungry, 0).Hours()/24)
	v.x[byFridge] = math.Log1p(chilled.Hours() / 24)
	mean := m.meanC(c, math.Exp(v.base))
	v.x[byWarmth], v.x[byHeat] = mean-warmthFrom, max(mean-heatFrom, 0)
	return v
}

const warmthFrom, heatFrom = 22, 29

// meanC is the mean temperature until so many warm hours have passed.
func (m *Model) meanC(c Course, warm float64) float64 {
	sum, n, done := 0.0, 0, 0.0
	for i := 0; done < warm && i < longest*perStep; i++ {
		at := tempAt(c, i)
		done += m.table.pace(between, at) / perStep
		sum, n = sum+at, n+1
	}
	return min(max(sum/float64(max(n, 1)), 10), 34)
}

// perStep is how many steps an hour of a course has.
const perStep = 10

// tempAt is the temperature in the middle of step i.
func tempAt(c Course, i int) float64 {
	if c == nil {
		return unknownC
	}
	at := c(time.Duration((float64(i) + 0.5) / perStep * float64(time.Hour)))
	if math.IsNaN(at) {
		return unknownC
	}
	return at
}

// warmAfter is how many hours at 20 °C response k has lived after d.
func (m *Model) warmAfter(k int, c Course, d time.Duration) float64 {
	end := min(d.Hours(), longest) * perStep
	sum := 0.0
	for i := 0; float64(i) < end; i++ {
		sum += m.table.pace(k, tempAt(c, i)) * min(end-float64(i), 1)
	}
	return sum / perStep
}

// Learn takes in a feed that has come to its top; feeds are learnt oldest
// first. It is false, and nothing is learnt, for a top that no starter has:
// within half an hour, or after ten days.
func (m *Model) Learn(p Past) bool {
	h := p.Top.Hours()
	if !(h > 0.5 && h < longest) || p.Course == nil {
		return false
	}
	v := m.see(p.Feed, p.Course)
	sum := 0.0
	for k := range m.lines {
		warm := m.warmAfter(k, p.Course, p.Top)
		atTop := m.table.pace(k, tempAt(p.Course, int(h*perStep)))
		// The density is asked for the clock's hours, hence the factor.
		m.weight[k] *= m.lines[k].learn(&v.x, math.Log(warm)-v.base, v.doubt) * atTop / warm
		sum += m.weight[k]
	}
	for k := range m.weight {
		// No response is ever ruled out: it may be the next starter's.
		m.weight[k] = 0.98*m.weight[k]/sum + 0.02*responseWeight[k]
	}
	if p.Feed.known() {
		m.usual = p.Feed
	}
	m.feeds++
	return true
}

// Feeds is how many feeds were learnt.
func (m *Model) Feeds() int { return m.feeds }

// Pace is how fast this starter lives at tempC relative to 25 °C.
func (m *Model) Pace(tempC float64) float64 {
	sum := 0.0
	for k, w := range m.weight {
		sum += w * m.table.pace(k, tempC) / m.table.pace(k, 25)
	}
	return sum
}

// TopAfter returns when the top of a feed comes if the course comes true.
func (m *Model) TopAfter(f Feed, c Course) (Span, Grounds) { return m.TopWithin(f, c, 0) }

// TopWithin is TopAfter for a course that is itself uncertain, by a standard
// deviation of doubtC in °C on the whole.
func (m *Model) TopWithin(f Feed, c Course, doubtC float64) (Span, Grounds) {
	v := m.see(f, c)
	b := belief{weight: m.weight}
	for k := range m.lines {
		l := &m.lines[k]
		mean, variance := l.guess(&v.x)
		b.mean[k] = v.base + mean
		own := math.Sqrt(variance+v.doubt+l.noise) * (1 + widenByDF/l.df)
		b.sd[k] = math.Hypot(own, doubtC*m.perDegree(k, v.x[byWarmth]+warmthFrom))
	}
	s := m.span(&b, c)
	return s, Grounds{Feeds: m.feeds, RatioKnown: f.known(), Endless: s.High >= longest*time.Hour}
}

// perDegree is how much a degree changes the logarithm of the time.
func (m *Model) perDegree(k int, tempC float64) float64 {
	return math.Abs(math.Log(m.table.pace(k, tempC+1)/m.table.pace(k, tempC-1))) / 2
}

// belief is a normal on the logarithm of the warm hours for each response.
type belief struct{ weight, mean, sd [responses]float64 }

// before is the probability that the top has come after so many warm hours.
func (b *belief) before(warm *[responses]float64) float64 {
	sum := 0.0
	for k, w := range b.weight {
		sum += w * phi((math.Log(max(warm[k], 1e-9))-b.mean[k])/b.sd[k])
	}
	return sum
}

// span walks along the course until nine tops in ten have come.
func (m *Model) span(b *belief, c Course) Span {
	want := [3]float64{0.1, 0.5, 0.9}
	out := [3]time.Duration{longest * time.Hour, longest * time.Hour, longest * time.Hour}
	var warm [responses]float64
	was, next := 0.0, 0
	for i := 0; i < longest*perStep && next < len(want); i++ {
		at := tempAt(c, i)
		for k := range warm {
			warm[k] += m.table.pace(k, at) / perStep
		}
		now := b.before(&warm)
		for next < len(want) && now >= want[next] {
			part := (want[next] - was) / (now - was)
			out[next] = fromHours((float64(i) + part) / perStep)
			next++
		}
		was = now
	}
	return Span{out[0], out[1], out[2]}
}

// Grounds says what a span rests on.
type Grounds struct {
	Feeds      int  // of this starter that were learnt
	RatioKnown bool // whether the feed's weights were said
	Endless    bool // too cold: within ten days the top is not sure to come
}

// String says it to a baker.
func (g Grounds) String() string {
	s := "from published growth rates and the trade's usual times; this starter has shown no top yet"
	switch {
	case g.Feeds == 1:
		s = "from one past feed of this starter and published growth rates"
	case g.Feeds > 1:
		s = fmt.Sprintf("from %d past feeds of this starter", g.Feeds)
	}
	if !g.RatioKnown {
		s += "; how much it was fed is unknown"
	}
	if g.Endless {
		s += "; that cold it may not come to a top at all"
	}
	return s
}
