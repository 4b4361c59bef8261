package check

import (
	"slices"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/text"
)

// checkBoard looks at the parts of the board that the configuration needs.
func checkBoard(c *config.Config, b Board, i2c BusOpener, pid string) []Result {
	var out []Result
	if r, ok := b.AsRoot(); ok {
		out = append(out, r)
	}
	if r, ok := b.Power(); ok {
		out = append(out, r)
	}
	out = append(out, b.Clock(), b.Space(c.DataDir, spaceNeeded(c)))
	if pid != "" {
		out = append(out, note("daemon", "check.daemon.runs", text.Name("pid", pid)))
	} else {
		out = append(out, checkBuses(c, b, i2c)...)
	}
	out = append(out, checkOneWire(c, b)...)
	return append(out, checkLines(c, b)...)
}

// checkOneWire looks for the thermometers on the kernel's 1-Wire bus.
func checkOneWire(c *config.Config, b Board) []Result {
	var probes []config.Sensor
	for _, s := range c.Sensors {
		if s.Chip == config.DS18B20 {
			probes = append(probes, s)
		}
	}
	if len(probes) == 0 {
		return nil
	}
	found, r, ok := b.OneWire()
	out := []Result{r}
	if !ok {
		return out
	}
	for _, s := range probes {
		out = append(out, b.Probe(s.Name, s.ID, found))
	}
	if len(probes) > 1 {
		out = append(out, b.Together(len(probes)))
	}
	return out
}

// checkLines looks at each GPIO chip that something is wired to.
func checkLines(c *config.Config, b Board) []Result {
	var out []Result
	var chips []string
	pins := linesOf(c)
	for _, p := range pins {
		if !slices.Contains(chips, p.chip) {
			chips = append(chips, p.chip)
			r, _ := b.GPIO(p.chip)
			out = append(out, r)
		}
	}
	return append(out, b.Pins(pins, usesI2C(c))...)
}

// linesOf are the GPIO lines that a configuration uses.
func linesOf(c *config.Config) (pins []Pin) {
	use := func(key text.Message, l config.Line) {
		if l.Set {
			pins = append(pins, Pin{Number: l.Number, User: key, chip: l.Chip})
		}
	}
	if c.Mat.Output == config.GPIO {
		use(written("mat.line"), c.Mat.Line)
	}
	for _, bus := range c.Buses {
		frees := text.Say("check.gpio.frees_bus", text.Number("bus", float64(bus.Number)))
		use(frees, bus.FreeSCL)
		use(frees, bus.FreeSDA)
	}
	for _, s := range c.Sensors {
		at := "sensor[" + s.Name + "]."
		use(written(at+"xshut"), s.XShut)
		use(written(at+"trigger"), s.Trigger)
		use(written(at+"echo"), s.Echo)
	}
	return pins
}

// written is what is the same in every language, such as a key of the configuration.
func written(name string) text.Message { return text.Say("check.as_written", text.Name("name", name)) }

// usesI2C reports whether a sensor hangs on I²C bus 1, the one of the header.
func usesI2C(c *config.Config) bool {
	return slices.ContainsFunc(c.Sensors, func(s config.Sensor) bool { return s.OnI2C() && s.Bus == 1 })
}

// Sizes of what is stored. A row of SQLite with one sample takes about 40 bytes
// (measured: 121 MB for a year at 10 s); the thinned history of a jar about
// 20 MB a year, which is a generous guess.
const (
	readingBytes = 40
	yearBytes    = 20 << 20
)

// spaceNeeded estimates the bytes that the store will hold after a year.
func spaceNeeded(c *config.Config) uint64 {
	total := uint64(1 << 20)
	for _, v := range c.Vessels {
		perDay := uint64(24 * time.Hour / v.Every)
		total += perDay*uint64(c.Store.FullRateDays)*readingBytes + yearBytes
	}
	return total
}

// secretFiles checks the files that secrets are kept in.
func secretFiles(c *config.Config, b Board) []Result {
	var out []Result
	one := func(topic string, s config.Secret) {
		switch {
		case s.File() != "":
			out = append(out, b.SecretFile(topic, s.File()))
		case s.IsSet():
			if _, err := s.Reveal(); err != nil {
				out = append(out, warn(topic, "check.secret.unset", text.Cause("err", err)))
			}
		}
	}
	one("mqtt password", c.MQTT.Password)
	for _, n := range c.Notify {
		one("notify "+n.Name, n.URL)
		one("notify "+n.Name+" key", n.Key)
	}
	return out
}
