// Package ultrasonictest is an echo ranger made of software: a pulse on its
// trigger raises its echo line for as long as sound takes to a surface and
// back. It is made from the vendor's timing diagram, not from a ranger.
package ultrasonictest

import (
	"sync"
	"time"

	"periph.io/x/conn/v3/gpio"

	"leavend/sensor/bus/bustest"
	"leavend/sensor/ultrasonic"
)

// Echo is what one ping gives.
type Echo struct {
	Pulse  time.Duration // how long the echo line is high; 0 and it never rises
	Late   time.Duration // by how much the program hears of the rise too late
	Stuck  bool          // the line stays high
	Missed bool          // the program hears of neither edge before both are over
}

// Ranger is an emulated ranger.
type Ranger struct {
	Trigger *bustest.Pin
	Echo    *Line

	mu    sync.Mutex // guards what follows
	see   func(n int) Echo
	n     int
	count uint32 // edges so far
	edges []edge
	start time.Time
}

// Line is the ranger's echo line. As a pin it can do nothing but fail.
type Line struct {
	*bustest.Pin
	ranger *Ranger
}

// edge is a change of the echo line, and when the program hears of it.
type edge struct {
	ultrasonic.Edge
	heard time.Time
}

// New returns a ranger; see says what ping n gives, from 0.
func New(see func(n int) Echo) *Ranger {
	r := &Ranger{Trigger: bustest.NewPin("TRIG"), see: see, start: time.Now()}
	r.Echo = &Line{bustest.NewPin("ECHO"), r}
	r.Trigger.Out(gpio.Low)
	r.Trigger.OnMove(func(l gpio.Level) {
		if l == gpio.Low {
			r.ping()
		}
	})
	return r
}

// ping plans the edges that follow the trigger: the burst takes 0.5 ms.
func (r *Ranger) ping() {
	r.mu.Lock()
	defer r.mu.Unlock()
	e := r.see(r.n)
	r.n++
	rise := time.Now().Add(500 * time.Microsecond)
	r.edges = nil
	switch {
	case e.Missed:
		r.count++
		r.plan(false, rise, 0)
	case e.Stuck:
		r.plan(true, rise, 0)
	case e.Pulse > 0:
		r.plan(true, rise, e.Late)
		r.plan(false, rise.Add(e.Pulse), 0)
	}
}

// plan adds an edge.
func (r *Ranger) plan(high bool, at time.Time, late time.Duration) {
	r.count++
	r.edges = append(r.edges, edge{ultrasonic.Edge{High: high, At: at.Sub(r.start), Number: r.count}, at.Add(late)})
}

// Watch makes the line an input.
func (l *Line) Watch() error { return l.In(gpio.PullNoChange, gpio.BothEdges) }

// High reports whether an edge upwards was the last one.
func (l *Line) High() (bool, error) {
	r := l.ranger
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.see(r.n).Stuck && r.n > 0, nil
}

// Edge waits for the next edge.
func (l *Line) Edge(timeout time.Duration) (ultrasonic.Edge, bool) {
	r := l.ranger
	r.mu.Lock()
	defer r.mu.Unlock()
	if len(r.edges) == 0 || time.Until(r.edges[0].heard) > timeout {
		time.Sleep(timeout)
		return ultrasonic.Edge{}, false
	}
	next := r.edges[0]
	r.edges = r.edges[1:]
	time.Sleep(time.Until(next.heard))
	return next.Edge, true
}

var _ ultrasonic.Echo = (*Line)(nil)
