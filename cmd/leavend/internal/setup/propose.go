package setup

import (
	"fmt"
	"os"
	"strconv"
	"strings"

	"leavend/cmd/leavend/internal/config"
	"leavend/sensor"
)

// Propose returns a piece of configuration, ready to be put at the end of the
// file, for every sensor that answers on the board and that the file does not
// name yet, and for a jar under each ranger. What is merely to be read stands
// in comments. A file that is not there is an empty one.
func Propose(s Scanner, file string) (string, error) {
	text, err := os.ReadFile(file)
	if err != nil && !os.IsNotExist(err) {
		return "", err
	}
	conf, err := config.Parse(text, file)
	if err != nil {
		return "", err
	}
	finds, amiss := s.look(conf)
	var b strings.Builder
	for _, r := range amiss {
		reader := conf.Reader()
		fmt.Fprintf(&b, "# %s: %s\n", r.Heading(reader), r.Says.In(reader))
		if !r.Do.IsZero() {
			fmt.Fprintf(&b, "#   -> %s\n", r.Do.In(reader))
		}
	}
	if len(finds) == 0 {
		b.WriteString("# No sensor was found that the configuration does not name already.\n")
		return b.String(), nil
	}
	var eyes, probes []string
	for _, f := range finds {
		if f.Moved() {
			fmt.Fprintf(&b, "\n# %s answers away from 0x29, where it wakes up: it has a shut-down line.\n# Name that line as xshut in a [[sensor]] of your own.\n", f.Says())
			continue
		}
		fmt.Fprintf(&b, "\n# %s\n[[sensor]]\nname = %q\n", f.Says(), f.Name)
		for _, set := range f.Settings {
			fmt.Fprintf(&b, "%s = %s\n", set.Key, set.Value)
		}
		switch {
		case f.Measures == sensor.Distance:
			eyes = append(eyes, f.Name)
		case f.atVessel():
			probes = append(probes, f.Name)
		}
	}
	b.WriteString(jars(conf, eyes, probes))
	if _, err := config.Parse([]byte(string(text)+"\n"+b.String()), file); err != nil {
		return "", fmt.Errorf("what was found does not fit the configuration: %w", err)
	}
	return b.String(), nil
}

// jars are the vessels for rangers, each with the thermometer found at its
// turn; which really hangs where only the baker knows.
func jars(c *config.Config, eyes, probes []string) string {
	taken := map[string]bool{}
	for _, v := range c.Vessels {
		taken[v.Name], taken[v.Slug] = true, true
	}
	var b strings.Builder
	for i, eye := range eyes {
		fmt.Fprintf(&b, "\n# See that ranger and thermometer are those of this jar, and give it its name;\n# then measure it with leavend calibrate.\n[[vessel]]\nname = %q\ndistance = %q\n", freeName("jar", taken), eye)
		if i < len(probes) {
			fmt.Fprintf(&b, "temperature = %q\n", probes[i])
		}
	}
	return b.String()
}

// Moved reports whether a ranger answers where only one with a shut-down line
// can have been put.
func (f Find) Moved() bool {
	for _, s := range f.Settings {
		if s.Key == "address" && f.Measures == sensor.Distance && s.Value != "0x29" {
			return true
		}
	}
	return false
}

// atVessel reports whether a thermometer is one for a vessel.
func (f Find) atVessel() bool {
	for _, s := range f.Settings {
		if s.Key == "place" {
			return s.Value == strconv.Quote(string(sensor.AtVessel))
		}
	}
	return false
}
