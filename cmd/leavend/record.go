package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"github.com/spf13/cobra"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/hardware"
	"leavend/cmd/leavend/internal/publish"
	"leavend/sensor"
	"leavend/sensor/recording"
)

// recordFlags are the switches of the record command.
type recordFlags struct {
	vessel string
	out    string
	length time.Duration
	force  bool
}

func newRecordCommand() *cobra.Command {
	var f recordFlags
	cmd := &cobra.Command{
		Use:   "record",
		Short: "Write down what a vessel's sensors see",
		Long: `Record reads one vessel's sensors as the daemon would, and writes a recording
that 'leavend replay' reads. It switches no mat. A line typed while it runs is
written as the note of the next row: type "fed" when you feed.`,
		Args: takes(0, 0),
	}
	file := addConfigFlag(cmd)
	flags := cmd.Flags()
	flags.StringVar(&f.vessel, "vessel", "", "the vessel, where the config has several")
	flags.StringVarP(&f.out, "output", "o", "-", "the file to write; - is the terminal")
	flags.DurationVar(&f.length, "for", 0, "end after this long; 0 records until Ctrl-C")
	flags.BoolVar(&f.force, "overwrite", false, "replace a file that is there already")
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		conf, err := loadConfig(*file)
		if err != nil {
			return err
		}
		v, err := f.pick(conf)
		if err != nil {
			return failure.Misuse(err)
		}
		out, err := f.create(cmd.OutOrStdout())
		if err != nil {
			return failure.Misuse(err)
		}
		return errors.Join(f.run(cmd.Context(), conf, v, out, cmd.InOrStdin(), cmd.ErrOrStderr()), out.Close())
	}
	return cmd
}

// pick returns the vessel to record.
func (f *recordFlags) pick(conf *config.Config) (config.Vessel, error) {
	if f.vessel == "" && len(conf.Vessels) == 1 {
		return conf.Vessels[0], nil
	}
	var names []string
	for _, v := range conf.Vessels {
		if v.Name == f.vessel || v.Slug == f.vessel {
			return v, nil
		}
		names = append(names, v.Name)
	}
	return config.Vessel{}, fmt.Errorf("--vessel: %q is none of the config's vessels: %q", f.vessel, names)
}

// create opens the file to write. A file that is there is not replaced
// unasked: it may be somebody's night.
func (f *recordFlags) create(stdout io.Writer) (io.WriteCloser, error) {
	if f.out == "-" {
		return unclosed{stdout}, nil
	}
	mode := os.O_WRONLY | os.O_CREATE | os.O_EXCL
	if f.force {
		mode = os.O_WRONLY | os.O_CREATE | os.O_TRUNC
	}
	file, err := os.OpenFile(f.out, mode, 0o644)
	if errors.Is(err, os.ErrExist) {
		return nil, fmt.Errorf("%s is there already; choose another name or add --overwrite", f.out)
	}
	return file, newFile(f.out, err)
}

// newFile says why a new file could not be made, and what to do.
func newFile(name string, err error) error {
	switch {
	case errors.Is(err, os.ErrExist):
		return fmt.Errorf("%s is there already; choose another name", name)
	case errors.Is(err, os.ErrNotExist):
		return fmt.Errorf("%s: there is no folder %s; make it, or choose another", name, filepath.Dir(name))
	case errors.Is(err, os.ErrPermission):
		return fmt.Errorf("%s: you may not write there; choose another folder, or put sudo in front", name)
	}
	return err
}

// unclosed is a writer that outlives its user.
type unclosed struct{ io.Writer }

// Close does nothing.
func (unclosed) Close() error { return nil }

// run records until ctx ends.
func (f *recordFlags) run(ctx context.Context, conf *config.Config, v config.Vessel, out io.Writer, in io.Reader, stderr io.Writer) error {
	if f.length > 0 {
		var stop context.CancelFunc
		ctx, stop = context.WithTimeout(ctx, f.length)
		defer stop()
	}
	w, err := recording.NewWriter(out, recording.WriterOpts{Raw: []string{"status", "sigma_mm", "signal"}})
	if err != nil {
		return err
	}
	r := &recorder{vessel: v, out: w, tempC: hardware.Recent{}}
	bench := &hardware.Registry{Clock: event.NewClock(time.Now(), 1)}
	defer bench.Close()
	bench.Prepare(conf.Sensors, conf.Buses...)
	stop, err := listenForTopics(ctx, conf, bench)
	if err != nil {
		return err
	}
	defer stop()
	wires, err := vesselWires(conf, v, bench)
	if err != nil {
		return err
	}
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	r.failed = cancel
	go r.readNotes(in)
	var wg sync.WaitGroup
	for bus, on := range hardware.ByBus(wires) {
		var items []sensor.Item
		quantity := map[string]sensor.Quantity{}
		for _, wire := range on {
			name := wire.Key().Item()
			items = append(items, sensor.Item{Name: name, Source: wire.Source})
			quantity[name] = wire.Quantity
		}
		p := sensor.NewPoller(bus, items, func(name string, reading sensor.Reading, err error) {
			r.take(quantity[name], reading, err)
		}, sensor.PollerOpts{Period: v.Every})
		wg.Go(func() { _ = p.Run(ctx) }) // it ends without an error
	}
	wg.Wait()
	fmt.Fprintf(stderr, "recorded %d rows of %s; %d without a distance\n", r.rows, v.Name, r.empty)
	if cause := context.Cause(ctx); !errors.Is(cause, context.Canceled) && !errors.Is(cause, context.DeadlineExceeded) {
		return cause
	}
	return nil
}

// vesselWires opens the sensors of one vessel.
func vesselWires(conf *config.Config, v config.Vessel, bench *hardware.Registry) ([]hardware.Channel, error) {
	var wires []hardware.Channel
	for _, s := range conf.Sensors {
		if s.Name != v.Distance && s.Name != v.Temperature {
			continue
		}
		opened, err := bench.Open(s)
		if err != nil {
			return nil, err
		}
		for _, w := range opened {
			if w.Quantity == sensor.Distance && s.Name == v.Distance || w.Quantity == sensor.Temperature && s.Name == v.Temperature {
				wires = append(wires, w)
			}
		}
	}
	return wires, nil
}

// listenForTopics connects to the configured broker, so that sensors that
// speak there are heard; stop ends it. The daemon's own broker runs only with
// the daemon, and nobody can be heard without it.
func listenForTopics(ctx context.Context, conf *config.Config, bench *hardware.Registry) (stop func(), err error) {
	if !conf.MQTT.On || conf.MQTT.Embedded() {
		return func() {}, nil
	}
	password, err := conf.MQTT.Password.Reveal()
	if err != nil {
		return nil, err
	}
	trust, err := publish.OptionalTLS(conf.MQTT.CAFile, conf.MQTT.CertFile, conf.MQTT.KeyFile)
	if err != nil {
		return nil, fmt.Errorf("mqtt: %w", err)
	}
	client, err := publish.New(conf.MQTT.URL, publish.Opts{
		Prefix: conf.MQTT.Prefix + "/record", User: conf.MQTT.User, Password: password, TLS: trust,
	})
	if err != nil {
		return nil, err
	}
	bench.Subscribe = func(filter string, heard func([]byte, time.Time, bool)) error {
		return client.Subscribe(filter, func(in publish.Inbound) { heard(in.Payload, time.Now(), in.Retained) })
	}
	ctx, cancel := context.WithCancel(ctx)
	var wg sync.WaitGroup
	wg.Go(func() { _ = client.Run(ctx) }) // it ends without an error
	return func() { cancel(); wg.Wait() }, nil
}

// recorder writes one row for each distance, with the temperature that was
// fresh then and the note typed last.
type recorder struct {
	vessel config.Vessel
	failed context.CancelCauseFunc

	mu          sync.Mutex // guards what follows
	out         *recording.Writer
	tempC       hardware.Recent
	note        string
	rows, empty int
}

// take takes what a read gave.
func (r *recorder) take(q sensor.Quantity, reading sensor.Reading, err error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	now := time.Now()
	if q == sensor.Temperature {
		if err == nil {
			r.tempC = hardware.Recent{Value: reading.Value, At: now}
		}
		return
	}
	row := recording.Row{At: now.UTC(), DistanceMM: reading.Value, TempC: r.tempC.Within(now, 3*r.vessel.Every), Note: r.note}
	r.note = ""
	status, sigma, signal := reading.Status, "", ""
	if err != nil {
		row.DistanceMM, status = math.NaN(), err.Error()
		r.empty++
	} else {
		sigma, signal = cell(reading.Sigma), cell(reading.Signal)
	}
	if err := r.out.Write(row, status, sigma, signal); err != nil {
		r.failed(err)
		return
	}
	r.rows++
}

// cell writes a number that the chip may not give.
func cell(v float64) string {
	if v == 0 {
		return ""
	}
	return fmt.Sprintf("%.3g", v)
}

// readNotes takes typed lines as notes.
func (r *recorder) readNotes(in io.Reader) {
	for lines := bufio.NewScanner(in); lines.Scan(); {
		r.mu.Lock()
		r.note = strings.TrimSpace(lines.Text())
		r.mu.Unlock()
	}
}
