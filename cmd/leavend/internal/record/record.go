// Package record writes down what the sensors of a vessel say, as a recording.
package record

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"sync"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/hardware"
	"leavend/cmd/leavend/internal/mqtt"
	"leavend/cmd/leavend/internal/text"
	"leavend/sensor"
	"leavend/sensor/recording"
)

// Run records until ctx ends.
func Run(ctx context.Context, conf *config.Config, v config.Vessel, length time.Duration, out io.Writer, in io.Reader, stderr io.Writer) error {
	if length > 0 {
		var stop context.CancelFunc
		ctx, stop = context.WithTimeout(ctx, length)
		defer stop()
	}
	w, err := recording.NewWriter(out, recording.WriterOpts{Raw: []string{"status", "sigma_mm", "signal"}})
	if err != nil {
		return err
	}
	r := &recorder{vessel: v, out: w, tempC: hardware.Recent{}}
	registry := &hardware.Registry{Clock: event.NewClock(time.Now(), 1)}
	defer registry.Close()
	registry.Prepare(conf.Sensors, conf.Buses...)
	stop, err := Subscribe(ctx, conf, registry)
	if err != nil {
		return err
	}
	defer stop()
	channels, err := vesselChannels(conf, v, registry)
	if err != nil {
		return err
	}
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	r.failed = cancel
	go r.readNotes(in)
	var wg sync.WaitGroup
	for bus, on := range hardware.ByBus(channels) {
		var items []sensor.Item
		quantity := map[string]sensor.Quantity{}
		for _, channel := range on {
			name := channel.Key().Item()
			items = append(items, sensor.Item{Name: name, Source: channel.Source})
			quantity[name] = channel.Quantity
		}
		p := sensor.NewPoller(bus, items, func(name string, reading sensor.Reading, err error) {
			r.take(quantity[name], reading, err)
		}, sensor.PollerOpts{Period: v.Every})
		wg.Go(func() { _ = p.Run(ctx) }) // it ends without an error
	}
	wg.Wait()
	fmt.Fprintln(stderr, text.Say("cli.record.done", text.Name("name", v.Name), text.Count("rows", r.rows), text.Count("empty", r.empty)).In(conf.Reader()))
	if cause := context.Cause(ctx); !errors.Is(cause, context.Canceled) && !errors.Is(cause, context.DeadlineExceeded) {
		return cause
	}
	return nil
}

// vesselChannels opens the sensors of one vessel.
func vesselChannels(conf *config.Config, v config.Vessel, registry *hardware.Registry) ([]hardware.Channel, error) {
	var channels []hardware.Channel
	for _, s := range conf.Sensors {
		if s.Name != v.Distance && s.Name != v.Temperature {
			continue
		}
		opened, err := registry.Open(s)
		if err != nil {
			return nil, err
		}
		for _, w := range opened {
			if w.Quantity == sensor.Distance && s.Name == v.Distance || w.Quantity == sensor.Temperature && s.Name == v.Temperature {
				channels = append(channels, w)
			}
		}
	}
	return channels, nil
}

// Subscribe connects to the configured broker, so that sensors that
// speak there are heard; stop ends it. The daemon's own broker runs only with
// the daemon, and no sensor can be heard without it.
func Subscribe(ctx context.Context, conf *config.Config, registry *hardware.Registry) (stop func(), err error) {
	if !conf.MQTT.On || conf.MQTT.Embedded() {
		return func() {}, nil
	}
	login, err := mqtt.ReadLogin(conf.MQTT) // what cannot be read is told at once
	if err != nil {
		return nil, err
	}
	client, err := mqtt.New(conf.MQTT.URL, mqtt.Opts{
		Prefix: conf.MQTT.Prefix + "/record", Login: func() (mqtt.Login, error) { return login, nil },
	})
	if err != nil {
		return nil, err
	}
	registry.Subscribe = func(filter string, heard func([]byte, time.Time, bool)) error {
		return client.Subscribe(filter, func(in mqtt.Inbound) { heard(in.Payload, time.Now(), in.Retained) })
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
