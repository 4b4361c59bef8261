// Package calibrate measures a vessel: how far its floor is below the sensor, its
// inside, and what a cover glass throws back.
package calibrate

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/hardware"
	"leavend/cmd/leavend/internal/prompt"
	"leavend/cmd/leavend/internal/text"
	"leavend/sensor"
	"leavend/sensor/jar"
)

// Opts are what a script says in place of a baker. Lengths are text
// such as "60", "6cm" or "2.5in".
type Opts struct {
	Empty, Yes                    bool
	Level                         string
	BoreBottom, BoreTop, HeightMM string
	Offset, Card                  string
	Watch                         time.Duration // the vessel stands still for so long
}

// scripted reports whether the vessel stands ready and no question is to be asked.
func (f Opts) scripted() bool { return f.Empty || f.Level != "" || f.cards() }

// cards reports whether a card lies there, and no vessel stands.
func (f Opts) cards() bool { return f.Offset != "" || f.Card != "" }

// calibration is one vessel being measured.
type calibration struct {
	talk   talk
	bench  *hardware.Registry
	conf   *config.Config
	vessel config.Vessel
	eye    config.Sensor
	shape  jar.Shape
	levels []jar.Level
}

// Run measures a vessel and writes what it found, if that is wanted.
func Run(ctx context.Context, bench *hardware.Registry, conf *config.Config, name string, f Opts, in io.Reader, out io.Writer) error {
	c := &calibration{talk: talk{prompt.New(in, out)}, bench: bench, conf: conf}
	if err := c.find(name); err != nil {
		return failure.Misuse(err)
	}
	c.shape = jar.Shape{BottomMM: c.vessel.BottomMM, TopMM: c.vessel.TopMM, HeightMM: c.vessel.HeightMM}
	c.talk.Say("The sensor %s (%s) looks down into %s. Nothing is written before you agree.", c.eye.Name, c.eye.Chip, c.vessel.Name)
	if f.Watch > 0 {
		return c.watch(ctx, f.Watch)
	}
	for _, step := range []func(context.Context, Opts) error{c.cards, c.measureLevels, c.askShape} {
		if err := step(ctx, f); err != nil {
			return err
		}
	}
	if f.cards() {
		return c.write(ctx, f, c.eyeSettings())
	}
	fit, err := jar.Calibrate(c.levels)
	if err != nil {
		return err
	}
	c.tell(fit)
	return c.write(ctx, f, c.eyeSettings(), c.vesselSettings(fit)...)
}

// find looks the vessel and its sensor up.
func (c *calibration) find(name string) error {
	for _, v := range c.conf.Vessels {
		if v.Name != name && v.Slug != name {
			continue
		}
		c.vessel = v
		c.eye, _ = c.conf.Sensor(v.Distance) // a config without it is not sound
		return nil
	}
	var names []string
	for _, v := range c.conf.Vessels {
		names = append(names, v.Name)
	}
	return fmt.Errorf("there is no vessel %q in %s; it has: %q", name, c.conf.File, names)
}

// measureLevels measures the empty vessel and known levels.
func (c *calibration) measureLevels(ctx context.Context, f Opts) error {
	source, err := c.ranger()
	if err != nil {
		return err
	}
	if f.cards() {
		return nil
	}
	if f.scripted() {
		height := 0.0
		if f.Level != "" {
			if height, err = parseMM("--level", f.Level, 1, 600); err != nil {
				return failure.Misuse(err)
			}
		}
		return c.level(ctx, source, height)
	}
	word, err := c.talk.Ask(ctx, "\nEmpty %s and put it in its place. Then press Enter (or type skip, if it must\nstay full): ", c.vessel.Name)
	if err != nil {
		return err
	}
	if word != "skip" {
		if err := c.level(ctx, source, 0); err != nil {
			return err
		}
	}
	for {
		height, ok, err := c.talk.length(ctx, 1, 600, "\n%s\nThen type how high it stands above the floor inside, by a ruler (60, 6cm or 2.5in),\nor just press Enter to go on: ", c.howToFill())
		switch {
		case err != nil:
			return err
		case ok:
			if err := c.level(ctx, source, height); err != nil {
				return err
			}
		case len(c.levels) == 0:
			c.talk.Say("  The empty vessel or one level is needed.")
		default:
			return nil
		}
	}
}

// howToFill says with what a level is made that the sensor can see.
func (c *calibration) howToFill() string {
	if len(c.levels) > 1 {
		return "Make another level, if you like."
	}
	return "To check this, fill in flour, rice or dough and make it level; no water,\nfor a laser looks through it."
}

// ranger opens the vessel's distance sensor.
func (c *calibration) ranger() (sensor.Source, error) {
	wires, err := c.bench.Open(c.eye)
	if err != nil {
		return nil, err
	}
	for _, w := range wires {
		if w.Quantity == sensor.Distance {
			return w.Source, nil
		}
	}
	return nil, fmt.Errorf("sensor %s measures no distance", c.eye.Name)
}

// level measures one level and tells how well.
func (c *calibration) level(ctx context.Context, source sensor.Source, heightMM float64) error {
	m, err := sampleLevel(ctx, source, c.eye)
	if err != nil {
		return fmt.Errorf("sensor %s: %w; 'leavend check' may say why", c.eye.Name, err)
	}
	what := "the floor"
	if heightMM > 0 {
		what = "the level of " + c.show(heightMM)
	}
	c.talk.Say("  %s is %s below the sensor (%d readings).", text.Capital(what), c.show(m.Mean), m.N)
	for _, line := range m.notes(c.show, c.vessel.Every) {
		c.talk.Say("  %s", line)
	}
	c.levels = append(c.levels, jar.Level{DistanceMM: m.Mean, HeightMM: heightMM})
	return nil
}

// askShape asks for the inside of the vessel.
func (c *calibration) askShape(ctx context.Context, f Opts) error {
	if f.BoreBottom != "" || f.BoreTop != "" || f.HeightMM != "" || f.scripted() {
		return failure.Misuse(c.flagShape(f))
	}
	keep := "Enter: leave it out"
	if c.shape.BottomMM > 0 {
		keep = "Enter: keep " + c.show(c.shape.BottomMM)
	}
	bottom, ok, err := c.talk.length(ctx, 20, 600, "\nHow wide is it inside, at the floor? (%s): ", keep)
	if err != nil || !ok {
		return err
	}
	top, leans, err := c.talk.length(ctx, 20, 600, "How wide is it inside, at the top? (Enter: as wide as at the floor): ")
	if err != nil {
		return err
	}
	c.shape.BottomMM, c.shape.TopMM = bottom, 0
	if !leans {
		return nil
	}
	height, ok, err := c.talk.length(ctx, 20, 600, "How high is that above the floor? ")
	if err != nil {
		return err
	}
	if !ok {
		return failure.Misuse(errors.New("the height of the upper width is needed, or the taper cannot be told"))
	}
	c.shape.TopMM, c.shape.HeightMM = top, height
	return failure.Misuse(c.shape.Check())
}

// flagShape takes the inside of the vessel from the flags.
func (c *calibration) flagShape(f Opts) error {
	for _, it := range []struct {
		flag, text string
		to         *float64
	}{{"--bore-bottom", f.BoreBottom, &c.shape.BottomMM}, {"--bore-top", f.BoreTop, &c.shape.TopMM}, {"--height", f.HeightMM, &c.shape.HeightMM}} {
		if it.text == "" {
			continue
		}
		mm, err := parseMM(it.flag, it.text, 20, 600)
		if err != nil {
			return err
		}
		*it.to = mm
	}
	if c.shape.TopMM > 0 && (c.shape.BottomMM == 0 || c.shape.HeightMM == 0) {
		return errors.New("--bore-top needs --bore-bottom and --height with it, or the taper cannot be told")
	}
	if c.shape.BottomMM > 0 && c.shape.HeightMM > 0 {
		return c.shape.Check()
	}
	return nil
}

// write shows the change of the config, asks, and saves it.
func (c *calibration) write(ctx context.Context, f Opts, eye []config.Setting, vessel ...config.Setting) error {
	before, err := os.ReadFile(c.conf.File)
	if err != nil {
		return err
	}
	after, err := config.Edit(before, c.conf.File, "vessel", c.vessel.Name, vessel...)
	if err == nil {
		after, err = config.Edit(after, c.conf.File, "sensor", c.eye.Name, eye...)
	}
	if err != nil {
		return err
	}
	change := config.Difference(before, after)
	if change == "" {
		c.talk.Say("\nThe configuration says so already; nothing is to be written.")
		return nil
	}
	c.talk.Say("\nThis would change in %s:\n%s", c.conf.File, change)
	if !f.Yes {
		word, err := c.talk.Ask(ctx, "Type yes to write it: ")
		if err != nil {
			return err
		}
		if word != "yes" {
			return errors.New("nothing was written, for you did not type yes")
		}
	}
	if err := config.Save(c.conf.File, after); err != nil {
		return err
	}
	c.talk.Say("Written. It counts when leavend starts: sudo systemctl start leavend")
	return nil
}

// vesselSettings are the keys of the vessel that changed.
func (c *calibration) vesselSettings(fit jar.Fit) []config.Setting {
	var out []config.Setting
	add := func(key string, was, is float64) {
		if was != is {
			out = append(out, config.Setting{Key: key, Value: fmt.Sprintf("%.1f", is)})
		}
	}
	top := c.shape.TopMM
	if top == 0 && c.vessel.TopMM > 0 {
		top = c.shape.BottomMM // what stands there would make it lean
	}
	// Each goes right behind the name, so the last is read first.
	add("height_mm", c.vessel.HeightMM, c.shape.HeightMM)
	add("bore_top_mm", c.vessel.TopMM, top)
	add("bore_bottom_mm", c.vessel.BottomMM, c.shape.BottomMM)
	add("floor_mm", c.vessel.FloorMM, fit.FloorMM)
	return out
}

// eyeSettings are the keys of the sensor that changed.
func (c *calibration) eyeSettings() (out []config.Setting) {
	was, _ := c.conf.Sensor(c.eye.Name)
	if was.CrosstalkKcps != c.eye.CrosstalkKcps {
		out = append(out, config.Setting{Key: "crosstalk_kcps", Value: fmt.Sprintf("%.3f", c.eye.CrosstalkKcps)})
	}
	if was.OffsetMM != c.eye.OffsetMM {
		out = append(out, config.Setting{Key: "offset_mm", Value: fmt.Sprintf("%.1f", c.eye.OffsetMM)})
	}
	return out
}
