package replay

import (
	"bytes"
	"math"
	"os"
	"time"

	"leavend/peak"
	"leavend/sensor/recording"
)

// chart gathers what a plot shows while a recording runs by. It keeps a
// bounded number of points, whatever the length of the recording.
type chart struct {
	title   string
	floor   float64
	first   time.Time
	last    time.Time
	surface series // smoothed height, mm
	raw     series // single readings
	warmth  series // °C
	mat     []stretch
	matOn   bool
	events  []peak.Event
}

// stretch is a stretch of time, in hours since the first row.
type stretch struct{ from, to float64 }

// point is a value at a time, in hours since the first row.
type point struct{ t, v float64 }

// series keeps points at a distance that doubles whenever there are too many.
type series struct {
	every  float64
	next   float64
	points []point
}

const seriesMost = 3000

func (s *series) due(t float64) bool { return t >= s.next }

func (s *series) add(t, v float64) {
	if s.every == 0 {
		s.every = 1.0 / 120
	}
	if len(s.points) == seriesMost {
		for i := range seriesMost / 2 {
			s.points[i] = s.points[2*i]
		}
		s.points = s.points[:seriesMost/2]
		s.every *= 2
	}
	s.points = append(s.points, point{t, v})
	s.next = t + s.every
}

// row takes in one row after the detector has seen it.
func (c *chart) row(row recording.Row, d *peak.Detector) {
	if c.first.IsZero() {
		c.first = row.At
	}
	if row.At.Before(c.last) {
		return
	}
	c.last = row.At
	t := c.hours(row.At)
	if !math.IsNaN(row.DistanceMM) && c.raw.due(t) {
		c.raw.add(t, c.floor-row.DistanceMM)
	}
	if row.TempC > -20 && row.TempC < 60 && c.warmth.due(t) {
		c.warmth.add(t, row.TempC)
	}
	if c.surface.due(t) {
		if h := d.Status().HeightMM; !math.IsNaN(h) {
			c.surface.add(t, h)
		}
	}
	c.matRow(t, row.Mat)
}

func (c *chart) matRow(t float64, s recording.Switch) {
	switch {
	case s == recording.On && !c.matOn && len(c.mat) < 4000:
		c.mat = append(c.mat, stretch{t, t})
	case c.matOn && len(c.mat) > 0:
		c.mat[len(c.mat)-1].to = t
	}
	c.matOn = s == recording.On
}

// event keeps an event; of many forecasts only as many as can be seen.
func (c *chart) event(e peak.Event) {
	if len(c.events) < 20000 {
		c.events = append(c.events, e)
	}
}

func (c *chart) hours(at time.Time) float64 { return at.Sub(c.first).Hours() }

// save draws the chart into a file.
func (c *chart) save(name string) error {
	var b bytes.Buffer
	c.draw(&b)
	return os.WriteFile(name, b.Bytes(), 0o644)
}
