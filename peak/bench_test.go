package peak

import (
	"testing"
	"time"
)

// benchRows is a day of a jar at 10 s, marked, with the usual troubles.
func benchRows() []sample {
	rec := single(families[1], 22)
	day := make([]sample, 0, 8640)
	at := starts
	for len(day) < 8640 {
		for _, s := range rec.rows {
			s.at = at
			at = at.Add(10 * time.Second)
			if day = append(day, s); len(day) == 8640 {
				break
			}
		}
	}
	return day
}

// BenchmarkAdd is the cost of a reading: cleaning, bank, call and forecast,
// over whole days with their quiet and their busy hours.
func BenchmarkAdd(b *testing.B) {
	day := benchRows()
	d := New(Opts{})
	b.ReportAllocs()
	i, shift := 0, time.Duration(0)
	for b.Loop() {
		s := &day[i]
		if s.fed {
			d.Fed(s.at.Add(shift))
		}
		d.Add(s.at.Add(shift), s.height, s.temp)
		if i++; i == len(day) {
			i, shift = 0, shift+24*time.Hour
		}
	}
}

// BenchmarkParabola is the baseline of the same run: the least-squares
// parabola over the last two hours, given the same readings one by one, and
// fitted once a minute as the detector judges once a minute. It gives no
// forecast and finds no feed.
func BenchmarkParabola(b *testing.B) {
	day := benchRows()
	var p parabola
	b.ReportAllocs()
	i, shift := 0, time.Duration(0)
	for b.Loop() {
		s := &day[i]
		if s.fed {
			p.fed()
		}
		p.add(s.at.Add(shift), s.height)
		if i++; i == len(day) {
			i, shift = 0, shift+24*time.Hour
		}
	}
}
