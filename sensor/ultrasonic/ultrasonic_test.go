package ultrasonic_test

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"leavend/sensor"
	"leavend/sensor/ultrasonic"
	"leavend/sensor/ultrasonic/ultrasonictest"
)

// TestSpeed holds the formula to values worked out from the coefficients that
// Cramer 1993 prints, independently of this code.
func TestSpeed(t *testing.T) {
	tests := []struct{ tempC, humidity, want float64 }{
		{0, 0, 331.45}, {20, 0, 343.36}, {25, 0, 346.27}, {30, 0, 349.15}, {25, 100, 347.98},
	}
	for _, tt := range tests {
		if got := ultrasonic.Speed(tt.tempC, tt.humidity); math.Abs(got-tt.want) > 0.006 {
			t.Errorf("%v °C, %v %%: got %.3f m/s, want %v", tt.tempC, tt.humidity, got, tt.want)
		}
	}
}

// headspaceSpeed returns the speed of sound, m/s, in dry air of which the given
// share is carbon dioxide, as it gathers over a starter: ideal gases, whose
// heat capacities and masses mix by their shares. The true surface is nearer
// than measured by the ratio of this to ultrasonic.Speed.
func headspaceSpeed(tempC, co2 float64) float64 {
	const (
		gas        = 8.314462618 // J/(mol·K)
		airMass    = 0.0289647   // kg/mol
		airHeat    = 3.5 * gas   // at constant pressure, J/(mol·K)
		co2Mass    = 0.0440095
		co2Heat    = 37.13 // at 25 °C (NIST chemistry web book, from memory)
		zeroKelvin = 273.15
	)
	mass := (1-co2)*airMass + co2*co2Mass
	heat := (1-co2)*airHeat + co2*co2Heat
	return math.Sqrt(heat / (heat - gas) * gas * (tempC + zeroKelvin) / mass)
}

// TestHeadspace holds the mix of gases to two values worked out apart, and to
// the polynomial where both hold.
func TestHeadspace(t *testing.T) {
	for co2, want := range map[float64]float64{0.10: 335.6, 0.50: 301} {
		if got := headspaceSpeed(25, co2); math.Abs(got-want) > 0.5 {
			t.Errorf("%v CO2: got %.1f m/s, want %v", co2, got, want)
		}
	}
	if a, b := headspaceSpeed(25, 400e-6), ultrasonic.Speed(25, 0); math.Abs(a-b) > 0.3 {
		t.Errorf("plain air: %.2f by mixing, %.2f by polynomial", a, b)
	}
}

// pulse is how long sound takes to a distance and back in dry air of 20 °C.
func pulse(mm float64) time.Duration { return time.Duration(2 * mm / 343.36 * 1e6) }

// bench is a driver wired to an emulated ranger, in a bubble of virtual time.
func bench(t *testing.T, opts ultrasonic.Opts, see func(n int) ultrasonictest.Echo, f func(*testing.T, *ultrasonic.Dev, *ultrasonictest.Ranger)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		r := ultrasonictest.New(see)
		opts.Humidity, opts.AirC = 1e-9, 20
		d, err := ultrasonic.New(r.Trigger, r.Echo, opts)
		if err != nil {
			t.Fatal(err)
		}
		f(t, d, r)
	})
}

func at(mm float64) func(int) ultrasonictest.Echo {
	return func(int) ultrasonictest.Echo { return ultrasonictest.Echo{Pulse: pulse(mm)} }
}

func TestRead(t *testing.T) {
	for _, mm := range []float64{30, 139, 400, 950} {
		bench(t, ultrasonic.Opts{}, at(mm), func(t *testing.T, d *ultrasonic.Dev, _ *ultrasonictest.Ranger) {
			start := time.Now()
			r, err := d.Read(t.Context())
			if err != nil || math.Abs(r.Value-mm) > 0.01 || r.Quantity != sensor.Distance || !r.At.Equal(start) {
				t.Errorf("%v mm: got %+v, %v", mm, r, err)
			}
			if took := time.Since(start); took < 8*60*time.Millisecond {
				t.Errorf("nine pings within %v leave the room no time to fall silent", took)
			}
		})
	}
}

// TestVendorRule: the vendor's rule of thumb, 58 µs a centimetre, is right to
// a percent at room temperature.
func TestVendorRule(t *testing.T) {
	see := func(int) ultrasonictest.Echo { return ultrasonictest.Echo{Pulse: 5800 * time.Microsecond} }
	bench(t, ultrasonic.Opts{}, see, func(t *testing.T, d *ultrasonic.Dev, _ *ultrasonictest.Ranger) {
		if r, err := d.Read(t.Context()); err != nil || math.Abs(r.Value-1000) > 10 {
			t.Errorf("5.8 ms: %v, %v", r.Value, err)
		}
	})
}

// TestKernelsRule holds the distance to that of Linux's own driver of such
// rangers (drivers/iio/proximity/srf04.c: ns · 106 / 617176, for air of 20 °C):
// 1 ms is 171 mm.
func TestKernelsRule(t *testing.T) {
	see := func(int) ultrasonictest.Echo { return ultrasonictest.Echo{Pulse: time.Millisecond} }
	bench(t, ultrasonic.Opts{}, see, func(t *testing.T, d *ultrasonic.Dev, _ *ultrasonictest.Ranger) {
		if r, err := d.Read(t.Context()); err != nil || math.Abs(r.Value-171) > 1 {
			t.Errorf("1 ms: %v, %v", r.Value, err)
		}
	})
}

// TestKernelsStamp: a program that hears of each rise 400 µs late, as on a busy
// board, measures the same, for the time of an edge is the kernel's. By its own
// clock it would be 69 mm off.
func TestKernelsStamp(t *testing.T) {
	see := func(int) ultrasonictest.Echo {
		return ultrasonictest.Echo{Pulse: pulse(300), Late: 400 * time.Microsecond}
	}
	bench(t, ultrasonic.Opts{}, see, func(t *testing.T, d *ultrasonic.Dev, _ *ultrasonictest.Ranger) {
		if r, err := d.Read(t.Context()); err != nil || math.Abs(r.Value-300) > 0.01 {
			t.Errorf("got %v, %v, want 300", r.Value, err)
		}
	})
}

func TestWarmerAirIsFaster(t *testing.T) {
	temp := 20.0
	bench(t, ultrasonic.Opts{Air: func() (float64, bool) { return temp, true }}, at(400), func(t *testing.T, d *ultrasonic.Dev, _ *ultrasonictest.Ranger) {
		temp = 30
		r, err := d.Read(t.Context())
		if want := 400 * 349.15 / 343.36; err != nil || math.Abs(r.Value-want) > 0.02 {
			t.Errorf("at 30 °C: got %v, %v, want %v", r.Value, err, want)
		}
		temp = math.NaN()
		if r, err = d.Read(t.Context()); err != nil || math.Abs(r.Value-400) > 0.02 {
			t.Errorf("without a temperature: got %v, %v, want 400", r.Value, err)
		}
	})
}

// TestMedianOutlivesABusyBoard lets four of nine pings go wrong.
func TestMedianOutlivesABusyBoard(t *testing.T) {
	see := func(n int) ultrasonictest.Echo {
		switch n % 9 {
		case 1:
			return ultrasonictest.Echo{Missed: true}
		case 3:
			return ultrasonictest.Echo{}
		case 5:
			return ultrasonictest.Echo{Pulse: pulse(300), Late: 400 * time.Microsecond}
		case 7:
			return ultrasonictest.Echo{Pulse: pulse(3 * 300)} // the third way round the jar
		}
		return ultrasonictest.Echo{Pulse: pulse(300)}
	}
	bench(t, ultrasonic.Opts{}, see, func(t *testing.T, d *ultrasonic.Dev, _ *ultrasonictest.Ranger) {
		for range 3 {
			if r, err := d.Read(t.Context()); err != nil || math.Abs(r.Value-300) > 0.01 {
				t.Errorf("got %v, %v, want 300", r.Value, err)
			}
		}
	})
}

func TestFaults(t *testing.T) {
	tests := []struct {
		name string
		echo ultrasonictest.Echo
		want string
	}{
		{"not wired", ultrasonictest.Echo{}, "the echo pin did not rise"},
		{"nothing within reach", ultrasonictest.Echo{Pulse: 38 * time.Millisecond}, "no echo came back"},
		{"the pin is stuck", ultrasonictest.Echo{Stuck: true}, "the echo pin is high before the ping"},
		{"a board too busy", ultrasonictest.Echo{Missed: true}, "edges were missed"},
		{"nearer than it can tell", ultrasonictest.Echo{Pulse: pulse(12)}, "refused distance 12: outside 20 to 1000 mm"},
		{"farther than a vessel", ultrasonictest.Echo{Pulse: pulse(2000)}, "outside 20 to 1000 mm"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			echo := tt.echo
			bench(t, ultrasonic.Opts{}, func(int) ultrasonictest.Echo { return echo }, func(t *testing.T, d *ultrasonic.Dev, _ *ultrasonictest.Ranger) {
				r, err := d.Read(t.Context())
				if err == nil || r != (sensor.Reading{}) || !strings.HasPrefix(err.Error(), "ultrasonic TRIG/ECHO: read: ") || !strings.Contains(err.Error(), tt.want) {
					t.Errorf("got %+v, %v, want a word on %q", r, err, tt.want)
				}
				echo = ultrasonictest.Echo{Pulse: pulse(139)}
				time.Sleep(time.Second)
				if r, err := d.Read(t.Context()); err != nil || math.Abs(r.Value-139) > 0.01 {
					t.Errorf("afterwards: %v, %v", r.Value, err)
				}
			})
		})
	}
}

func TestBrokenPins(t *testing.T) {
	broken := errors.New("no such line")
	bench(t, ultrasonic.Opts{}, at(139), func(t *testing.T, d *ultrasonic.Dev, r *ultrasonictest.Ranger) {
		r.Trigger.Fail(broken)
		if _, err := d.Read(t.Context()); !errors.Is(err, broken) {
			t.Errorf("trigger: %v", err)
		}
		r.Trigger.Fail(nil)
		r.Echo.Fail(broken)
		if _, err := d.Read(t.Context()); !errors.Is(err, broken) {
			t.Errorf("echo: %v", err)
		}
	})
}

func TestReadHeedsItsContext(t *testing.T) {
	bench(t, ultrasonic.Opts{Pings: 31}, at(139), func(t *testing.T, d *ultrasonic.Dev, _ *ultrasonictest.Ranger) {
		ctx, cancel := context.WithTimeout(t.Context(), 200*time.Millisecond)
		defer cancel()
		start := time.Now()
		if _, err := d.Read(ctx); !errors.Is(err, context.DeadlineExceeded) || time.Since(start) > 400*time.Millisecond {
			t.Errorf("%v after %v", err, time.Since(start))
		}
	})
}

func TestNewRefuses(t *testing.T) {
	for name, o := range map[string]ultrasonic.Opts{
		"too many pings": {Pings: 32},
		"an empty range": {MinMM: 300, MaxMM: 200},
		"hot air":        {AirC: 60},
		"wet air":        {Humidity: 120},
	} {
		r := ultrasonictest.New(at(139))
		if _, err := ultrasonic.New(r.Trigger, r.Echo, o); err == nil {
			t.Errorf("%s was accepted", name)
		}
	}
}

// The surface seems farther away the more carbon dioxide lies over it.
func Example_headspace() {
	for _, co2 := range []float64{0, 0.1, 0.5} {
		fmt.Printf("%.0f %% CO2: 100 mm read as %.0f mm\n", 100*co2, 100*headspaceSpeed(25, 0)/headspaceSpeed(25, co2))
	}
	// Output:
	// 0 % CO2: 100 mm read as 100 mm
	// 10 % CO2: 100 mm read as 103 mm
	// 50 % CO2: 100 mm read as 115 mm
}
