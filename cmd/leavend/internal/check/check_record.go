package check

import (
	"context"
	"fmt"
	"io"
	"os"
	"runtime"
	"slices"
	"time"

	"periph.io/x/conn/v3/i2c"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/hardware"
	"leavend/cmd/leavend/internal/version"
	"leavend/sensor"
	"leavend/sensor/bus"
)

// How long chips are recorded, how often each is read, and how long one reading
// may take.
const (
	recordFor   = time.Minute
	recordEvery = time.Second
	recordLimit = 3 * time.Second
)

// busRecorder writes what the sensors of a board say into one file, for those who
// write the drivers. It knows addresses, registers and readings, and nothing of
// what the sensors are called, of the network, or of any password.
type busRecorder struct {
	board Board
	bench *hardware.Registry
	open  func(number int) (i2c.BusCloser, error)
	trace *bus.Trace
}

// RecordBus records the sensors that a configuration names.
func RecordBus(ctx context.Context, conf *config.Config, board Board, path string) error {
	if pid, ok := board.RunningOn(conf); ok {
		return fmt.Errorf("leavend runs (process %s) and uses the same bus or line; stop it first: sudo systemctl stop leavend", pid)
	}
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return fmt.Errorf("record: %w; give the name of a file that is not there yet", err)
	}
	defer f.Close()
	r := &busRecorder{board: board, bench: &hardware.Registry{Clock: event.NewClock(time.Now(), 1)}, open: hardware.OpenI2C}
	defer r.bench.Close()
	if err := r.record(ctx, conf, f); err != nil {
		return err
	}
	return f.Close()
}

// record writes the whole file.
func (r *busRecorder) record(ctx context.Context, conf *config.Config, to io.Writer) error {
	r.trace = bus.NewTrace(to)
	r.trace.Note("leavend bus recording 1")
	r.trace.Note("leavend %s on %s/%s, kernel %s, board %q", version.Version, runtime.GOOS, runtime.GOARCH, r.board.Kernel(), r.board.Model())
	sensors := slices.DeleteFunc(slices.Clone(conf.Sensors), func(s config.Sensor) bool {
		return s.Chip == config.Topic || s.Chip == config.Recording || s.Chip == config.Kitchen
	})
	r.addresses(sensors)
	r.bench.Bus = func(number int) (i2c.BusCloser, error) {
		b, err := r.open(number)
		if err != nil {
			return nil, err
		}
		return r.trace.Bus(b), nil
	}
	r.bench.Prepare(conf.Sensors, conf.Buses...)
	var sources []sensor.Source
	for i, s := range sensors {
		r.trace.Note("sensor %d is a %s %s", i+1, s.Chip, settingsOf(s))
		opened, err := r.bench.Open(s)
		if err != nil {
			return err
		}
		for _, c := range opened {
			sources = append(sources, numbered{c.Source, i + 1})
		}
	}
	r.readings(ctx, sources)
	for _, s := range sensors {
		r.registers(s)
	}
	r.trace.Note("end")
	return r.trace.Err()
}

// addresses notes who answers on each bus.
func (r *busRecorder) addresses(sensors []config.Sensor) {
	var done []int
	for _, s := range sensors {
		if !s.OnI2C() || slices.Contains(done, s.Bus) {
			continue
		}
		done = append(done, s.Bus)
		b, err := r.open(s.Bus)
		if err != nil {
			r.trace.Note("bus %d ! %v", s.Bus, err)
			continue
		}
		for _, f := range Scan(b, nil, time.Sleep) {
			r.trace.Note("found on bus %d: 0x%02x %s", s.Bus, f.Address, f.Chip)
		}
		_ = b.Close() // it was only read
	}
}

// settingsOf are the keys of a sensor that change what is written to its chip.
func settingsOf(s config.Sensor) string {
	if !s.OnI2C() {
		return ""
	}
	return fmt.Sprintf("bus=%d address=0x%02x mux=0x%02x channel=%d xshut=%v budget=%v roi=%d long=%v offset_mm=%g crosstalk_kcps=%g",
		s.Bus, s.Address, s.Mux, s.MuxChannel, s.XShut.Set, s.Budget, s.ROI[0], s.Long, s.OffsetMM, s.CrosstalkKcps)
}

// registers reads a chip's whole register file, where reading it does nothing
// else: what the factory wrote there makes the emulators truer. A chip behind a
// multiplexer is left out.
func (r *busRecorder) registers(s config.Sensor) {
	const step = 32
	wide, last := true, 0x140
	switch s.Chip {
	case config.VL53L1X, config.VL53L4CD:
	case config.VL6180X:
		last = 0x220
	case config.BME280, config.BMP280:
		wide, last = false, 0x100
	default:
		return
	}
	if s.Mux != 0 {
		return
	}
	b, err := r.bench.Bus(s.Bus)
	if err != nil {
		return // told of by every reading
	}
	defer b.Close()
	for reg := 0; reg < last; reg += step {
		from := []byte{byte(reg >> 8), byte(reg)}
		if !wide {
			from = from[1:]
		}
		_ = b.Tx(uint16(s.Address), from, make([]byte, step)) // the trace notes what comes
	}
}

// numbered is a source of a sensor that goes by its number.
type numbered struct {
	sensor.Source
	number int
}

// readings reads every source once a second, and notes what each said.
func (r *busRecorder) readings(ctx context.Context, sources []sensor.Source) {
	for start := time.Now(); time.Since(start) < recordFor && ctx.Err() == nil; {
		round := time.Now()
		for _, s := range sources {
			limited, cancel := context.WithTimeout(ctx, recordLimit)
			v, err := s.Read(limited)
			cancel()
			number := s.(numbered).number
			if err != nil {
				r.trace.Note("reading of sensor %d ! %v", number, err)
				continue
			}
			r.trace.Note("reading of sensor %d: %s %g sigma %g signal %g status %q", number, v.Quantity, v.Value, v.Sigma, v.Signal, v.Status)
		}
		select {
		case <-ctx.Done():
		case <-time.After(time.Until(round.Add(recordEvery))):
		}
	}
}
