// Package ultrasonictest is an echo ranger made of software: a pulse on its
// trigger raises its echo pin for as long as sound takes to a surface and
// back. It is made from the vendor's timing diagram, not from a ranger.
package ultrasonictest

import (
	"sync"
	"time"

	"periph.io/x/conn/v3/gpio"

	"leavend/sensor/bus/bustest"
)

// Echo is what one ping gives.
type Echo struct {
	Pulse  time.Duration // how long the echo pin is high; 0 and it never rises
	Late   time.Duration // by how much the program hears of the rise too late
	Stuck  bool          // the pin stays high
	Missed bool          // the program hears of neither edge before both are over
}

// Ranger is an emulated ranger.
type Ranger struct {
	Trigger, Echo *bustest.Pin

	mu    sync.Mutex // guards what follows
	see   func(n int) Echo
	n     int
	edges []edge
}

// edge is a change of the echo pin.
type edge struct {
	at    time.Time
	level gpio.Level
}

// New returns a ranger; see says what ping n gives, from 0.
func New(see func(n int) Echo) *Ranger {
	r := &Ranger{Trigger: bustest.NewPin("TRIG"), Echo: bustest.NewPin("ECHO"), see: see}
	r.Trigger.Out(gpio.Low)
	r.Echo.Hold(false)
	r.Echo.Rest(gpio.Low)
	r.Trigger.OnMove(func(l gpio.Level) {
		if l == gpio.Low {
			r.ping()
		}
	})
	r.Echo.Edges(r.wait)
	return r
}

// ping plans the edges that follow the trigger: the burst takes 0.5 ms.
func (r *Ranger) ping() {
	r.mu.Lock()
	defer r.mu.Unlock()
	e := r.see(r.n)
	r.n++
	rise := time.Now().Add(500*time.Microsecond + e.Late)
	r.edges = nil
	switch {
	case e.Missed:
		r.edges = []edge{{rise, gpio.Low}}
	case e.Stuck:
		r.edges = []edge{{rise, gpio.High}}
	case e.Pulse > 0:
		r.edges = []edge{{rise, gpio.High}, {rise.Add(e.Pulse - e.Late), gpio.Low}}
	}
}

// wait waits for the next edge.
func (r *Ranger) wait(timeout time.Duration) (gpio.Level, bool) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if len(r.edges) == 0 || time.Until(r.edges[0].at) > timeout {
		time.Sleep(timeout)
		return gpio.Low, false
	}
	next := r.edges[0]
	r.edges = r.edges[1:]
	time.Sleep(time.Until(next.at))
	return next.level, true
}
