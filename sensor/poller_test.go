package sensor_test

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"

	"leavend/sensor"
)

// source is a Source made of a function.
type source func(ctx context.Context) (sensor.Reading, error)

func (s source) Read(ctx context.Context) (sensor.Reading, error) { return s(ctx) }

// steady answers v after the given time, or ctx's error.
func steady(v float64, after time.Duration) source {
	return func(ctx context.Context) (sensor.Reading, error) {
		select {
		case <-time.After(after):
			return sensor.Reading{At: time.Now(), Quantity: sensor.Temperature, Value: v}, nil
		case <-ctx.Done():
			return sensor.Reading{}, ctx.Err()
		}
	}
}

// log records deliveries as lines that carry the second they came in.
type log struct {
	start time.Time
	lines []string
}

func (l *log) deliver(name string, r sensor.Reading, err error) {
	at := time.Since(l.start)
	if err != nil {
		l.lines = append(l.lines, fmt.Sprintf("%v %s: %v", at, name, err))
		return
	}
	l.lines = append(l.lines, fmt.Sprintf("%v %s = %v", at, name, r.Value))
}

// poll runs a poller for the given time of the bubble and returns its log.
func poll(t *testing.T, run time.Duration, opts sensor.PollerOpts, items ...sensor.Item) []string {
	t.Helper()
	l := &log{start: time.Now()}
	ctx, cancel := context.WithTimeout(t.Context(), run)
	defer cancel()
	if err := sensor.NewPoller("bus 1", items, l.deliver, opts).Run(ctx); err != nil {
		t.Errorf("Run: %v", err)
	}
	return l.lines
}

func TestPollerReadsInTurn(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		got := poll(t, 15*time.Second, sensor.PollerOpts{},
			sensor.Item{Name: "crumb", Source: steady(25, time.Second)},
			sensor.Item{Name: "mat", Source: steady(31, time.Second)})
		want := []string{"1s crumb = 25", "2s mat = 31", "11s crumb = 25", "12s mat = 31"}
		if diff := cmp.Diff(got, want); diff != "" {
			t.Errorf("deliveries (-got +want)\n%s", diff)
		}
	})
}

func TestPollerLimitsARead(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		got := poll(t, 9*time.Second, sensor.PollerOpts{},
			sensor.Item{Name: "slow", Source: steady(1, time.Minute)},
			sensor.Item{Name: "mat", Source: steady(31, time.Second)})
		want := []string{"2s slow: context deadline exceeded", "3s mat = 31"}
		if diff := cmp.Diff(got, want); diff != "" {
			t.Errorf("deliveries (-got +want)\n%s", diff)
		}
	})
}

// TestPollerSurvivesAHang lets the second read of a driver ignore its context
// for 25 s: everything on the bus is reported hung, nothing is silently left
// out, and the first round after the hang reads again.
func TestPollerSurvivesAHang(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		reads := 0
		hangs := source(func(context.Context) (sensor.Reading, error) {
			if reads++; reads == 2 {
				time.Sleep(25 * time.Second)
			}
			return sensor.Reading{Value: float64(reads)}, nil
		})
		got := poll(t, 45*time.Second, sensor.PollerOpts{},
			sensor.Item{Name: "jar", Source: hangs},
			sensor.Item{Name: "mat", Source: steady(31, 0)})
		want := []string{
			"0s jar = 1", "0s mat = 31",
			"12.5s jar: bus 1: the bus hangs in the read of jar, for 3s now",
			"12.5s mat: bus 1: the bus hangs in the read of jar, for 3s now",
			"20s jar: bus 1: the bus hangs in the read of jar, for 10s now",
			"20s mat: bus 1: the bus hangs in the read of jar, for 10s now",
			"30s jar: bus 1: the bus hangs in the read of jar, for 20s now",
			"30s mat: bus 1: the bus hangs in the read of jar, for 20s now",
			"40s jar = 3", "40s mat = 31",
		}
		if diff := cmp.Diff(got, want); diff != "" {
			t.Errorf("deliveries (-got +want)\n%s", diff)
		}
	})
}

func TestPollerEndsWhileABusHangs(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var err error
		ctx, cancel := context.WithTimeout(t.Context(), time.Second)
		defer cancel()
		stuck := make(chan struct{})
		defer close(stuck)
		p := sensor.NewPoller("bus 1", []sensor.Item{{Name: "jar", Source: source(func(context.Context) (sensor.Reading, error) {
			<-stuck
			return sensor.Reading{}, nil
		})}}, func(_ string, _ sensor.Reading, e error) { err = e }, sensor.PollerOpts{})
		start := time.Now()
		if got := p.Run(ctx); got != nil {
			t.Errorf("Run: %v", got)
		}
		if took := time.Since(start); took > 2*time.Second {
			t.Errorf("Run came back after %v", took)
		}
		if !errors.Is(err, sensor.ErrHung) {
			t.Errorf("got %v, want ErrHung", err)
		}
	})
}

func TestPollerTurnsAPanicIntoAnError(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		got := poll(t, time.Second, sensor.PollerOpts{}, sensor.Item{Name: "jar", Source: source(
			func(context.Context) (sensor.Reading, error) { panic("index out of range") })})
		want := []string{"0s jar: the driver panicked, which is a bug: index out of range"}
		if diff := cmp.Diff(got, want); diff != "" {
			t.Errorf("deliveries (-got +want)\n%s", diff)
		}
	})
}

func TestPollerSaysWhenItIsLate(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var late []time.Duration
		opts := sensor.PollerOpts{Period: time.Second, Late: func(by time.Duration) { late = append(late, by) }}
		got := poll(t, 2*time.Second, opts, sensor.Item{Name: "jar", Source: steady(1, 1500*time.Millisecond)})
		if len(got) != 2 || len(late) == 0 || late[0] != 500*time.Millisecond {
			t.Errorf("deliveries %q, late by %v", got, late)
		}
	})
}

func TestPollerAllocatesNothing(t *testing.T) {
	synctest.Test(t, func(t *testing.T) { // in real time a machine that stalls looks like a bus that hangs
		ctx, cancel := context.WithCancel(t.Context())
		defer cancel()
		quick := source(func(ctx context.Context) (sensor.Reading, error) { return sensor.Reading{Value: 1}, ctx.Err() })
		rounds, before, after := 0, runtime.MemStats{}, runtime.MemStats{}
		p := sensor.NewPoller("bus 1", []sensor.Item{{Name: "jar", Source: quick}}, func(_ string, r sensor.Reading, err error) {
			if err != nil {
				t.Error(err)
			}
			switch rounds++; rounds {
			case 50:
				runtime.ReadMemStats(&before)
			case 1050:
				runtime.ReadMemStats(&after)
				cancel()
			}
		}, sensor.PollerOpts{Period: time.Nanosecond})
		p.Run(ctx)
		// The runtime itself allocates now and then; one in ten rounds is not it.
		if n := after.Mallocs - before.Mallocs; n > 100 {
			t.Errorf("%d allocations in 1000 rounds", n)
		} else {
			t.Logf("%d allocations in 1000 rounds", n)
		}
	})
}

func ExamplePoller() {
	ctx, cancel := context.WithCancel(context.Background())
	jar := source(func(context.Context) (sensor.Reading, error) {
		return sensor.Reading{Quantity: sensor.Distance, Value: 139}, nil
	})
	lid := source(func(context.Context) (sensor.Reading, error) {
		return sensor.Reading{}, errors.New("vl53l1x I2C1 0x30: measure: no acknowledge")
	})
	deliver := func(name string, r sensor.Reading, err error) {
		if err != nil {
			fmt.Println(name, "has no reading:", err)
			cancel()
			return
		}
		fmt.Println(name, r.Value)
	}
	items := []sensor.Item{{Name: "bramble", Source: jar}, {Name: "pilot", Source: lid}}
	sensor.NewPoller("i2c-1", items, deliver, sensor.PollerOpts{Period: 10 * time.Second}).Run(ctx)
	// Output:
	// bramble 139
	// pilot has no reading: vl53l1x I2C1 0x30: measure: no acknowledge
}
