// Package calibrate measures a vessel: how far its floor is below the sensor, its
// inside, and what a cover glass throws back.
package calibrate

import (
	"context"
	"fmt"
	"io"
	"os"
	"strings"
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
	c := &calibration{talk: talk{prompt.New(in, out, conf.Reader())}, bench: bench, conf: conf}
	if err := c.find(name); err != nil {
		return failure.Misuse(err)
	}
	c.shape = jar.Shape{BottomMM: c.vessel.BottomMM, TopMM: c.vessel.TopMM, HeightMM: c.vessel.HeightMM}
	c.talk.Say("cli.calibrate.begin", text.Name("eye", c.eye.Name), text.Name("chip", string(c.eye.Chip)), c.name())
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

// name is the vessel's name, for a sentence.
func (c *calibration) name() text.Arg { return text.Name("name", c.vessel.Name) }

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
	return text.Fail("cli.vessel.unknown", text.Name("name", name), text.Name("names", strings.Join(names, ", ")))
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
	c.talk.Print("")
	word, err := c.talk.Ask(ctx, "cli.calibrate.empty", c.name())
	if err != nil {
		return err
	}
	if word != "skip" {
		if err := c.level(ctx, source, 0); err != nil {
			return err
		}
	}
	for {
		height, ok, err := c.talk.length(ctx, 1, 600, c.howToFill())
		switch {
		case err != nil:
			return err
		case ok:
			if err := c.level(ctx, source, height); err != nil {
				return err
			}
		case len(c.levels) == 0:
			c.talk.Say("cli.calibrate.one_needed")
		default:
			return nil
		}
	}
}

// howToFill says with what a level is made that the sensor can see.
func (c *calibration) howToFill() string {
	if len(c.levels) > 1 {
		return "cli.calibrate.another_level"
	}
	return "cli.calibrate.first_level"
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
	return nil, text.Fail("cli.calibrate.no_distance", text.Name("eye", c.eye.Name))
}

// level measures one level and tells how well.
func (c *calibration) level(ctx context.Context, source sensor.Source, heightMM float64) error {
	m, err := sampleLevel(ctx, source, c.eye)
	if err != nil {
		return text.Fail("cli.calibrate.unread", text.Name("eye", c.eye.Name), text.Cause("err", err))
	}
	key := "cli.calibrate.floor_at"
	if heightMM > 0 {
		key = "cli.calibrate.level_at"
	}
	c.talk.Say(key, text.Length("level", heightMM), text.Length("deep", m.Mean), text.Count("n", m.N))
	for _, note := range m.notes(c.vessel.Every) {
		c.talk.Tell(note)
	}
	c.levels = append(c.levels, jar.Level{DistanceMM: m.Mean, HeightMM: heightMM})
	return nil
}

// askShape asks for the inside of the vessel.
func (c *calibration) askShape(ctx context.Context, f Opts) error {
	if f.BoreBottom != "" || f.BoreTop != "" || f.HeightMM != "" || f.scripted() {
		return failure.Misuse(c.flagShape(f))
	}
	ask := "cli.calibrate.bottom"
	if c.shape.BottomMM > 0 {
		ask = "cli.calibrate.bottom_known"
	}
	bottom, ok, err := c.talk.length(ctx, 20, 600, ask, text.Length("now", c.shape.BottomMM))
	if err != nil || !ok {
		return err
	}
	top, leans, err := c.talk.length(ctx, 20, 600, "cli.calibrate.top")
	if err != nil {
		return err
	}
	c.shape.BottomMM, c.shape.TopMM = bottom, 0
	if !leans {
		return nil
	}
	height, ok, err := c.talk.length(ctx, 20, 600, "cli.calibrate.height")
	if err != nil {
		return err
	}
	if !ok {
		return failure.Misuse(text.Fail("cli.calibrate.height_needed"))
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
		return text.Fail("cli.calibrate.top_alone")
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
		c.talk.Say("cli.calibrate.unchanged")
		return nil
	}
	c.talk.Print("")
	c.talk.Say("cli.calibrate.change", text.Name("file", c.conf.File))
	c.talk.Print(change)
	if !f.Yes {
		if err := c.talk.Confirm(ctx, "cli.calibrate.write"); err != nil {
			return err
		}
	}
	if err := config.Save(c.conf.File, after); err != nil {
		return err
	}
	c.talk.Say("cli.calibrate.written")
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
