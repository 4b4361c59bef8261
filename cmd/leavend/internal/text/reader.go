package text

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// Reader is how one person has sentences and numbers written. The zero value
// is English, metric, on a 24-hour clock, in UTC.
type Reader struct {
	Language string // a code of Languages; another is the fallback
	Zone     *time.Location
	Now      time.Time // a moment of another day is written with its day; zero: never
	Hours12  bool

	Fahrenheit bool // temperatures
	Ounces     bool // weights
	Inches     bool // lengths, and quarts for volumes
}

// In puts the message into the reader's words.
func (m Message) In(r Reader) string {
	if m.IsZero() {
		return ""
	}
	c := of(r.Language)
	s, ok := c.sentences[m.Key]
	if !ok {
		return m.Key
	}
	var b strings.Builder
	for _, p := range s.form(c.tag, m) {
		if p.name == "" {
			b.WriteString(p.text)
			continue
		}
		b.WriteString(r.write(p, m.Args[p.name]))
	}
	return b.String()
}

// word is a sentence without arguments.
func (r Reader) word(key string) string { return Say(key).In(r) }

// write writes one value as its place asks.
func (r Reader) write(p piece, value any) string {
	switch v := value.(type) {
	case nil:
		return r.word("number.unknown")
	case Message:
		if p.style == "capital" {
			return Capital(v.In(r))
		}
		return v.In(r)
	case []Message:
		switch p.style {
		case "sentences":
			return r.sentences(v)
		case "points":
			return r.points(v)
		case "parts":
			return r.parts(v)
		}
		return r.join(v)
	case time.Time:
		return r.moment(p.style, v)
	case string:
		if t, err := time.Parse(time.RFC3339Nano, v); err == nil && times[p.style] {
			return r.moment(p.style, t)
		}
		if p.style == "capital" {
			return Capital(v)
		}
		return v
	case float64:
		return r.number(p.style, v)
	}
	return fmt.Sprint(value)
}

// join makes a list of several sentences.
func (r Reader) join(all []Message) string {
	parts := make([]string, len(all))
	for i, m := range all {
		parts[i] = m.In(r)
	}
	switch n := len(parts); n {
	case 0:
		return ""
	case 1:
		return parts[0]
	default:
		return strings.Join(parts[:n-1], r.word("list.comma")) + r.word("list.and") + parts[n-1]
	}
}

// parts puts the parts of one sentence together.
func (r Reader) parts(all []Message) (s string) {
	for _, m := range all {
		s += m.In(r)
	}
	return s
}

// sentences puts whole sentences one behind the other.
func (r Reader) sentences(all []Message) string {
	parts := make([]string, len(all))
	for i, m := range all {
		parts[i] = m.In(r)
	}
	return strings.Join(parts, " ")
}

// times are the styles of a moment.
var times = map[string]bool{"time": true, "when": true, "clock": true, "weekday": true, "date": true, "day": true, "ago": true, "in": true}

func (r Reader) zone(t time.Time) time.Time {
	if r.Zone == nil {
		return t.UTC()
	}
	return t.In(r.Zone)
}

// moment writes a time: clock only, with its day where that is not today's,
// the day only, or its distance from now.
func (r Reader) moment(style string, t time.Time) string {
	switch style {
	case "clock":
		return r.Clock(t)
	case "weekday": // a clock time with its day, for who reads of several days
		return Say("time.on", Sub("day", r.weekday(t)), Name("clock", r.Clock(t))).In(r)
	case "date":
		return Say("time.on", Name("day", r.Day(t)), Name("clock", r.Clock(t))).In(r)
	case "day":
		return r.Day(t)
	case "when":
		return r.near(t, whenKeys)
	case "ago":
		return r.age(r.Now.Sub(t))
	case "in": // no finer than an estimate is
		span := t.Sub(r.Now).Round(5 * time.Minute)
		if span <= 0 {
			return r.word("time.any_minute")
		}
		return Say("time.in", Duration("span", span)).In(r)
	}
	return r.near(t, nearKeys)
}

// Clock is a time of day.
func (r Reader) Clock(t time.Time) string {
	if r.Hours12 {
		return r.zone(t).Format("3:04 pm")
	}
	return r.zone(t).Format("15:04")
}

// weekday is the day of the week, in short.
func (r Reader) weekday(t time.Time) Message {
	return Say("time.weekday." + strconv.Itoa(int(r.zone(t).Weekday())))
}

// Day is a date without a year.
func (r Reader) Day(t time.Time) string {
	t = r.zone(t)
	return Say("time.date", Sub("weekday", r.weekday(t)),
		Number("day", float64(t.Day())), Sub("month", Say("time.month."+strconv.Itoa(int(t.Month()))))).In(r)
}

// keys are the sentences of a clock time on the reader's day, on those next to
// it, and on another.
type keys struct{ today, tomorrow, yesterday, on string }

var (
	nearKeys = keys{"time.today", "time.tomorrow", "time.yesterday", "time.on"}
	whenKeys = keys{"time.when", "time.when_tomorrow", "time.when_yesterday", "time.when_on"}
)

// near is a clock time, with its day where that is not the one of Now.
func (r Reader) near(t time.Time, k keys) string {
	clock := Name("clock", r.Clock(t))
	days := 0
	if !r.Now.IsZero() {
		days = r.days(t)
	}
	switch {
	case days == 0:
		return Say(k.today, clock).In(r)
	case days == 1:
		return Say(k.tomorrow, clock).In(r)
	case days == -1:
		return Say(k.yesterday, clock).In(r)
	case days > 1 && days < 7:
		return Say(k.on, Sub("day", r.weekday(t)), clock).In(r)
	}
	return Say(k.on, Name("day", r.Day(t)), clock).In(r)
}

// days is how many days of the calendar lie between Now and t.
func (r Reader) days(t time.Time) int {
	noon := func(t time.Time) time.Time {
		y, m, d := r.zone(t).Date()
		return time.Date(y, m, d, 12, 0, 0, 0, time.UTC)
	}
	return int(math.Round(noon(t).Sub(noon(r.Now)).Hours() / 24))
}

const (
	gramsPerOunce = 28.349523125 // international avoirdupois ounce, exact
	mmPerInch     = 25.4         // exact
	litresPerQt   = 0.946352946  // US liquid quart, exact
)

// number writes a number with its unit.
func (r Reader) number(style string, v float64) string {
	switch style {
	case "duration":
		return r.span(time.Duration(v * float64(time.Second)))
	case "ago":
		return r.age(time.Duration(v * float64(time.Second)))
	case "temp":
		return r.temp(v, 1)
	case "degrees": // as short as it goes: a setpoint, a room
		if r.Fahrenheit || math.Abs(v-math.Round(v)) < 0.05 {
			return r.temp(v, 0)
		}
		return r.temp(v, 1)
	case "warmer": // a difference
		return r.fixed(r.apart(v), 1) + "°"
	case "temp_fine": // a digit more, for who looks after a sensor
		return r.temp(v, 2)
	case "warmer_fine":
		return r.fixed(r.apart(v), 2) + "°"
	case "length_fine":
		if r.Inches {
			return r.fixed(v/mmPerInch, 2) + " in"
		}
		return r.fixed(v, 1) + " mm"
	case "size":
		return r.size(v)
	case "weight":
		return r.weight(v)
	case "length":
		if r.Inches {
			return r.fixed(v/mmPerInch, 1) + " in"
		}
		return r.fixed(v, 0) + " mm"
	case "volume":
		if r.Inches {
			return r.fixed(v/litresPerQt, 1) + " qt"
		}
		return r.short(v) + " l"
	case "ratio":
		return r.fixed(v, 2) + "×"
	case "percent":
		return r.fixed(100*v, 0) + " %"
	case "count":
		return r.grouped(v)
	}
	return r.short(v)
}

// apart is a difference of temperatures.
func (r Reader) apart(c float64) float64 {
	if r.Fahrenheit {
		return c * 9 / 5
	}
	return c
}

// size writes bytes in decimal units, as disks are sold.
func (r Reader) size(v float64) string {
	units := []string{"B", "kB", "MB", "GB", "TB"}
	i := 0
	for v >= 1000 && i < len(units)-1 {
		v, i = v/1000, i+1
	}
	if v < 10 && i > 0 {
		return r.fixed(v, 1) + " " + units[i]
	}
	return r.fixed(v, 0) + " " + units[i]
}

func (r Reader) temp(c float64, digits int) string {
	if r.Fahrenheit {
		return r.fixed(c*9/5+32, digits) + " °F"
	}
	return r.fixed(c, digits) + " °C"
}

// weight writes grams. A tenth of an ounce is too coarse for what weighs
// little: 10 g of salt would become 11.
func (r Reader) weight(g float64) string {
	oz := g / gramsPerOunce
	switch {
	case !r.Ounces:
		return r.fixed(g, 0) + " g"
	case oz >= 1.95:
		return r.fixed(oz, 1) + " oz"
	}
	return r.fixed(oz, 2) + " oz"
}

// span writes a length of time in at most two units.
func (r Reader) span(d time.Duration) string {
	m := int(d.Round(time.Minute).Minutes())
	switch {
	case d < 90*time.Second:
		return Say("time.seconds", Count("n", int(d.Seconds()))).In(r)
	case m < 60:
		return Say("time.minutes", Count("n", m)).In(r)
	case m < 48*60 && m%60 == 0:
		return Say("time.hours", Count("h", m/60)).In(r)
	case m < 48*60:
		return Say("time.hours_minutes", Count("h", m/60), Count("m", m%60)).In(r)
	}
	return Say("time.days", Count("n", int(math.Round(float64(m)/1440)))).In(r)
}

// age writes how long ago something was as a person says it: in minutes up to an hour
// and a half, in hours up to a day and a half, then in days. times.js does the same.
func (r Reader) age(d time.Duration) string {
	n := func(unit time.Duration) Arg { return Count("n", int(d.Round(unit)/unit)) }
	switch {
	case d < time.Minute:
		return r.word("time.just_now")
	case d <= 90*time.Minute:
		return Say("time.minutes_ago", n(time.Minute)).In(r)
	case d < 36*time.Hour:
		return Say("time.hours_ago", n(time.Hour)).In(r)
	}
	return Say("time.days_ago", n(24*time.Hour)).In(r)
}

func (r Reader) fixed(v float64, digits int) string {
	s := strconv.FormatFloat(v, 'f', digits, 64)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-") // no negative zero
	}
	return strings.Replace(s, ".", r.word("number.decimal"), 1)
}

// short writes a number with as many digits as it has, three at most.
func (r Reader) short(v float64) string {
	return strings.Replace(strconv.FormatFloat(math.Round(v*1000)/1000, 'f', -1, 64), ".", r.word("number.decimal"), 1)
}

// grouped writes a whole number with its thousands apart.
func (r Reader) grouped(v float64) string {
	s := strconv.FormatFloat(math.Round(v), 'f', 0, 64)
	for i := len(s) - 3; i > 0 && s[i-1] != '-'; i -= 3 {
		s = s[:i] + r.word("number.group") + s[i:]
	}
	return s
}
