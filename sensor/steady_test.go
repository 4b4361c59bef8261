package sensor_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	"leavend/sensor"
	"leavend/sensor/bus/bustest"
	"leavend/sensor/mux"
	"leavend/sensor/mux/muxtest"
	"leavend/sensor/vl53l1x"
	"leavend/sensor/vl53l1x/vl53l1xtest"
	"leavend/sensor/w1"
)

// board is what a big kitchen has: four rangers behind a multiplexer and four
// 1-Wire probes.
func board(tb testing.TB) (rangers, probes []sensor.Item) {
	tb.Helper()
	sw := muxtest.New(0x70)
	m, err := mux.New(muxtest.Board("I2C1", sw), []uint16{0x70}, mux.Opts{})
	if err != nil {
		tb.Fatal(err)
	}
	root := tb.TempDir()
	for i := range 4 {
		sw.Behind(i).Attach(vl53l1xtest.New(vl53l1xtest.Sample{DistanceMM: 139, SigmaMM: 2, SignalMcps: 10, Raw: 9}))
		port, err := m.Port(0x70, i)
		if err != nil {
			tb.Fatal(err)
		}
		ranger, err := vl53l1x.New(port, vl53l1x.Addr, vl53l1x.Opts{BudgetMS: 20})
		if err != nil {
			tb.Fatal(err)
		}
		rangers = append(rangers, sensor.Item{Name: fmt.Sprint("jar ", i), Source: ranger})

		// An invented number; the scratchpad is that of 25.0625 °C.
		id := fmt.Sprintf("28-0316a279d5f%d", i)
		text := "91 01 4b 46 7f ff 0c 10 70 : crc=70 YES\n91 01 4b 46 7f ff 0c 10 70 t=25062\n"
		if err := os.MkdirAll(filepath.Join(root, id), 0o755); err != nil {
			tb.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(root, id, "w1_slave"), []byte(text), 0o644); err != nil {
			tb.Fatal(err)
		}
		probe, err := w1.New(id, w1.Opts{Root: root})
		if err != nil {
			tb.Fatal(err)
		}
		probes = append(probes, sensor.Item{Name: fmt.Sprint("crumb ", i), Source: probe})
	}
	return rangers, probes
}

// TestSteadyStateAllocatesNothing reads the whole board: our code allocates
// nothing for it. The emulated multiplexer allocates for the buses behind it,
// so it is taken off the count by reading through it with nothing in front.
func TestSteadyStateAllocatesNothing(t *testing.T) {
	if bustest.Race {
		t.Skip("the race detector allocates")
	}
	synctest.Test(t, func(t *testing.T) {
		rangers, probes := board(t)
		direct := vl53l1xtest.New(vl53l1xtest.Sample{DistanceMM: 139, SigmaMM: 2, SignalMcps: 10, Raw: 9})
		ranger, err := vl53l1x.New(bustest.New("I2C1", direct), vl53l1x.Addr, vl53l1x.Opts{BudgetMS: 20})
		if err != nil {
			t.Fatal(err)
		}
		ctx := context.Background()
		read := func(s sensor.Source) {
			if _, err := s.Read(ctx); err != nil {
				t.Fatal(err)
			}
		}
		for _, it := range append(rangers, probes...) {
			read(it.Source)
		}
		allocs := testing.AllocsPerRun(50, func() {
			for range 4 {
				read(ranger)
			}
			for _, it := range probes {
				read(it.Source)
			}
		})
		if allocs > 1 { // The runtime's own goroutines count too.
			t.Errorf("%v allocations a round of four rangers and four probes", allocs)
		}
	})
}

// BenchmarkRound reads four rangers and four probes through their pollers'
// drivers in real time, and gives the processor time of it, the emulators'
// share included.
func BenchmarkRound(b *testing.B) {
	rangers, probes := board(b)
	ctx := context.Background()
	b.ReportAllocs()
	var before, after syscall.Rusage
	for b.Loop() {
		if before.Utime == (syscall.Timeval{}) {
			for _, it := range append(rangers, probes...) {
				it.Source.Read(ctx) // Sets the chips up.
			}
			syscall.Getrusage(syscall.RUSAGE_SELF, &before)
		}
		for _, it := range append(rangers, probes...) {
			if _, err := it.Source.Read(ctx); err != nil {
				b.Fatal(err)
			}
		}
	}
	syscall.Getrusage(syscall.RUSAGE_SELF, &after)
	cpu := func(u syscall.Rusage) time.Duration {
		return time.Duration(u.Utime.Nano() + u.Stime.Nano())
	}
	b.ReportMetric(float64((cpu(after)-cpu(before)).Microseconds())/float64(b.N), "cpu-µs/op")
}
