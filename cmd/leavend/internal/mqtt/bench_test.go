package mqtt

import (
	"fmt"
	"testing"
	"time"
)

// benchClient is a client for n jars that is connected to a real mosquitto.
func benchClient(b *testing.B, n int) *Client {
	b.Helper()
	var o Opts
	for i := range n {
		o.Vessels = append(o.Vessels, VesselInfo{ID: fmt.Sprintf("jar-%04d", i), Kind: "jar"})
	}
	o.Discovery = true
	c := newClient(b, newMosquitto(b).url(), o)
	run(b, c.Run)
	eventually(b, "all is announced", func() bool { return c.Stats().Connected && c.Stats().StatesWaiting == 0 })
	return c
}

// BenchmarkThousandJars sends one sample of each of 1,000 jars and waits until
// the broker has confirmed all of them: what one process can carry.
func BenchmarkThousandJars(b *testing.B) {
	c := benchClient(b, 1000)
	v := bramble()
	before := c.Stats().StatesSent
	for b.Loop() {
		v.At.Time = v.At.Add(time.Second)
		for i := range 1000 {
			v.ID = fmt.Sprintf("jar-%04d", i)
			c.Vessel(v)
		}
		for c.Stats().StatesWaiting > 0 {
			time.Sleep(time.Millisecond)
		}
	}
	b.ReportMetric(float64(c.Stats().StatesSent-before)/b.Elapsed().Seconds(), "messages/s")
}

// BenchmarkCaller is what a caller waits when it hands over a state or an
// event, with no broker at all.
func BenchmarkCaller(b *testing.B) {
	c, err := New("mqtt://broker.example", Opts{})
	if err != nil {
		b.Fatal(err)
	}
	v, e := bramble(), topEvent()
	b.Run("state", func(b *testing.B) {
		for b.Loop() {
			c.Vessel(v)
		}
	})
	b.Run("event", func(b *testing.B) {
		for b.Loop() {
			c.events.add(e)
		}
	})
}

// BenchmarkEvent is the way of one event to a real mosquitto and back.
func BenchmarkEvent(b *testing.B) {
	c := benchClient(b, 1)
	for b.Loop() {
		c.events.add(topEvent())
		for c.Stats().EventsWaiting > 0 {
			time.Sleep(10 * time.Microsecond)
		}
	}
}
