// Package demo runs the daemon in an invented kitchen, in quick motion, and shows a
// visitor what goes on.
package demo

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/daemon"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/store"
	"leavend/sensor"
	"leavend/sensor/sim"
)

// Opts are the switches of the demo.
type Opts struct {
	Speed    float64
	Seed     uint64
	Duration time.Duration
	Ports    bool
	Units    string
	Clock    int
}

// Run plays the demo until ctx ends.
func Run(ctx context.Context, f Opts, stdout, stderr io.Writer) error {
	dir, err := os.MkdirTemp("", "leavend-demo-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	conf, err := f.config(dir)
	if err != nil {
		return err
	}
	c := event.NewClock(time.Now(), f.Speed)
	k, err := openKitchen(ctx, c.Now, f.Seed)
	if err != nil {
		return err
	}
	mat, err := k.Mat(sim.Bramble)
	if err != nil {
		return err
	}
	log := slog.New(slog.NewTextHandler(stderr, &slog.HandlerOptions{Level: slog.LevelError}))
	h := &monitor.Hub{}
	heard := h.Listen("demo")
	d, err := daemon.New(ctx, conf, log, daemon.Parts{
		Hub: h, Clock: c, Mat: mat, Simulated: sources(k.Kitchen), Note: filepath.Join(dir, "mat.json"), Invented: true, ClockMade: true,
		Past: k.remember(conf),
	})
	if err != nil {
		return err
	}
	if err := d.Missing(""); err != nil { // a visitor looks at the page
		return errors.Join(withOtherPorts(err), d.Close())
	}
	if f.Duration > 0 {
		var stop context.CancelFunc
		ctx, stop = context.WithTimeout(ctx, f.Duration)
		defer stop()
	}
	s := &stage{d: d, kitchen: k.Kitchen, out: stdout}
	s.welcome(f.Speed)
	go c.Run(ctx)
	go s.play(ctx, heard)
	err = d.Run(ctx)
	fmt.Fprintln(stdout, "\nThe demo is over; the mat is off. Nothing was saved.")
	return err
}

// withOtherPorts names the way out where another program has a port.
func withOtherPorts(err error) error {
	if !errors.Is(err, syscall.EADDRINUSE) {
		return err
	}
	return fmt.Errorf("%w\nAnother program has that port; this takes free ones: leavend demo --any-ports", err)
}

// config is the demo's own configuration, read like any other.
func (f Opts) config(dir string) (*config.Config, error) {
	var b strings.Builder
	fmt.Fprintf(&b, "data_dir = %q\nunits = %q\nclock = %d\n", dir, f.Units, f.Clock)
	for _, v := range []struct {
		name, kind   string
		floor, inner float64
	}{{sim.Bramble, "jar", 215, 165}, {sim.Pilot, "jar", 200, 150}, {sim.Bowl, "bowl", 200, 150}} {
		fmt.Fprintf(&b, "[[sensor]]\nname = %q\nchip = \"kitchen\"\n", "over "+v.name)
		fmt.Fprintf(&b, "[[vessel]]\nname = %q\nkind = %q\ndistance = %q\ntemperature = %q\nfloor_mm = %v\nheight_mm = %v\n",
			v.name, v.kind, "over "+v.name, "over "+v.name, v.floor, v.inner)
	}
	fmt.Fprintf(&b, "[mat]\noutput = \"kitchen\"\nvessel = %q\nsetpoint_c = 26\nwatts = 18\nlease = \"5m\"\n", sim.Bramble)
	file := filepath.Join(dir, "demo.toml")
	if err := os.WriteFile(file, []byte(b.String()), 0o600); err != nil {
		return nil, err
	}
	conf, err := config.Load(file)
	if err == nil && f.Ports {
		const free = "127.0.0.1:0"
		conf.MQTT.Listen, conf.Web.Listen, conf.Metrics.Listen = free, free, free
	}
	return conf, err
}

// sources finds a configured sensor's vessel in the kitchen.
func sources(k *sim.Kitchen) func(config.Sensor) (sensor.Source, sensor.Source, error) {
	return func(s config.Sensor) (distance, temperature sensor.Source, err error) {
		name := strings.TrimPrefix(s.Name, "over ")
		if distance, err = k.Ranger(name); err != nil {
			return nil, nil, err
		}
		temperature, err = k.Probe(name, sensor.AtVessel)
		return distance, temperature, err
	}
}

// stage shows the visitor what goes on.
type stage struct {
	d       *daemon.Daemon
	kitchen *sim.Kitchen
	out     io.Writer
	shown   time.Time     // kitchen time of the last live lines
	onTotal time.Duration // for how long the mat had been on by then
}

// welcome says what the visitor is about to see, and where else to look.
func (s *stage) welcome(speed float64) {
	at := s.d.Addresses()
	fmt.Fprintf(s.out, "\nOpen http://%s/ in your browser.\n\n", at.Page)
	fmt.Fprintf(s.out, `It shows an invented kitchen, %.0f times as fast as a real one.
All data is made up. Ctrl-C ends it.

`, speed)
	fmt.Fprintf(s.out, "  MQTT     %s, topics below leavend/\n", at.Broker)
	fmt.Fprintf(s.out, "  metrics  http://%s/metrics\n\n", at.Metrics)
}

// play passes on what the invented baker says, and prints what happens.
func (s *stage) play(ctx context.Context, l *monitor.Listener) {
	l.Run(ctx, func(it monitor.Item) {
		s.hearBaker(ctx)
		switch {
		case it.Event != nil:
			s.say(*it.Event)
		case it.Status != nil && it.Status.At.Sub(s.shown) >= time.Hour:
			s.show(it.Status.At)
			s.shown = it.Status.At
		}
	})
}

// hearBaker hands what the invented baker presses to the daemon.
func (s *stage) hearBaker(ctx context.Context) {
	for _, p := range s.kitchen.Presses() {
		v := s.d.Find(p.Vessel)
		if _, err := s.d.Fed(ctx, v.Conf.Slug, store.Feed{At: p.At}); err != nil {
			fmt.Fprintf(s.out, "  (the feed of %s was not kept: %v)\n", p.Vessel, err)
		}
	}
}

// say prints an event as the baker's phone would.
func (s *stage) say(e event.Event) {
	if e.Kind == event.Forecast {
		return
	}
	fmt.Fprintf(s.out, "%s  >> %s\n", s.d.Conf.Reader().Clock(e.At), e.Text)
}

// show prints how everything stands, a line for each vessel and one for the
// mat.
func (s *stage) show(at time.Time) {
	clock := s.d.Conf.Reader().Clock(at)
	for _, v := range s.d.Vessels {
		fmt.Fprintf(s.out, "%-8s  %s\n", clock, standing(v.Status(at), s.d.Conf.Reader()))
		clock = ""
	}
	s.showMat()
}

// showMat prints how the mat stands, and how long it was on since the lines
// before: it heats in short pulses, of which a line sees only one moment.
func (s *stage) showMat() {
	w, r := s.d.Mat.State(), s.d.Conf.Reader()
	since := ""
	if !s.shown.IsZero() {
		since = fmt.Sprintf(" (on for %.0f min since %s)", (w.OnTotal - s.onTotal).Minutes(), r.Clock(s.shown))
	}
	s.onTotal = w.OnTotal
	fmt.Fprintf(s.out, "          %s%s\n", matStands(w, r), since)
}
