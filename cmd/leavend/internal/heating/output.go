package heating

import (
	"fmt"
	"path/filepath"
	"strconv"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/hardware"
	"leavend/control"
	"leavend/control/line"
	"leavend/control/plug"
)

// OpenOutput opens whatever switches the mat, and leaves the note by which
// `leavend mat off` finds it. The line is opened before anything else of the
// daemon: see OpenLine.
func OpenOutput(conf *config.Config, note string, network plug.Publisher) (control.Output, error) {
	n, err := NoteOf(conf)
	if err != nil {
		return nil, err
	}
	if err := WriteNote(note, n); err != nil && !n.None {
		return nil, err // without a mat the note only spares a question
	}
	switch {
	case n.Line != nil:
		pin, err := hardware.OpenLine(n.Line.Chip, n.Line.Line)
		if err != nil {
			return nil, err
		}
		return line.New(pin)
	case n.Plug != nil:
		return openPlug(conf, network)
	}
	return nil, nil
}

// NoteOf is the note of what the config says switches the mat.
func NoteOf(conf *config.Config) (n Note, err error) {
	if n.DataDir, err = filepath.Abs(conf.DataDir); err != nil {
		return n, err
	}
	switch conf.Mat.Output {
	case config.GPIO:
		n.Line = LineOf(conf.Mat)
	case config.Plug:
		n.Plug, err = plugOf(conf)
	case config.NoOutput:
		n.None = true
	default:
		err = fmt.Errorf("mat.output: %s needs the simulated kitchen; use 'leavend demo'", conf.Mat.Output)
	}
	return n, err
}

// LineOf is the mat's GPIO line; nil where it has none.
func LineOf(m config.Mat) *Line {
	if m.Output != config.GPIO {
		return nil
	}
	chip := m.Line.Chip
	if chip != "" && !filepath.IsAbs(chip) {
		chip = "/dev/" + chip
	}
	return &Line{Chip: chip, Line: strconv.Itoa(m.Line.Number)}
}

// plugOf is how the mat's plug is reached and spoken to.
func plugOf(conf *config.Config) (*Plug, error) {
	recipe, err := Recipe(conf.Mat.Plug)
	if err != nil {
		return nil, err
	}
	password, err := conf.MQTT.Password.Reveal()
	if err != nil {
		return nil, err
	}
	m, c := conf.MQTT, conf.Mat.Plug
	p := &Plug{
		User: m.User, Password: password, CAFile: m.CAFile, CertFile: m.CertFile, KeyFile: m.KeyFile,
		Off: recipe.Off(), Echo: c.EchoDeadline, Lease: conf.Mat.Lease,
	}
	if c.Recipe == config.Custom {
		custom := CustomRecipe(c)
		p.Custom = &custom
	} else {
		p.Kind, p.Topic, p.Relay = string(c.Recipe), c.Topic, c.Relay
	}
	if m.URL != "" {
		broker, err := config.BrokerURL(m.URL)
		if err != nil {
			return nil, err
		}
		p.Broker = broker.String()
	}
	return p, nil
}

// openPlug makes a plug's output.
func openPlug(conf *config.Config, network plug.Publisher) (*plug.Dev, error) {
	recipe, err := Recipe(conf.Mat.Plug)
	if err != nil {
		return nil, err
	}
	// By the end of its lease the plug has let go by itself, whatever it was told.
	return plug.New(recipe, network, plug.Opts{EchoWithin: conf.Mat.Plug.EchoDeadline, StartsWithin: conf.Mat.Lease + conf.Mat.Plug.EchoDeadline})
}
