package setup

import (
	"fmt"
	"os"
	"strconv"
	"strings"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/text"
	"leavend/sensor"
)

// Propose returns a piece of configuration, ready to be put at the end of the
// file, for every sensor that answers on the board and that the file does not
// name yet, and for a jar under each ranger. What is merely to be read stands
// in comments. A file that is not there is an empty one.
func Propose(s Scanner, file string, reader text.Reader) (string, error) {
	before, err := os.ReadFile(file)
	if err != nil && !os.IsNotExist(err) {
		return "", err
	}
	conf, err := config.Parse(before, file)
	if err != nil {
		return "", err
	}
	finds, amiss := s.look(conf)
	var b strings.Builder
	for _, r := range amiss {
		fmt.Fprintf(&b, "# %s: %s\n", r.Heading(reader), r.Says.In(reader))
		if !r.Do.IsZero() {
			fmt.Fprintf(&b, "#   -> %s\n", r.Do.In(reader))
		}
	}
	if len(finds) == 0 {
		b.WriteString(comment("setup.propose.nothing", reader))
		return b.String(), nil
	}
	var eyes, probes []string
	for _, f := range finds {
		if f.Moved() {
			b.WriteString("\n" + comment("setup.propose.moved", reader, text.Sub("what", f.Says())))
			continue
		}
		fmt.Fprintf(&b, "\n# %s\n[[sensor]]\nname = %q\n", f.Says().In(reader), f.Name)
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
	b.WriteString(jars(conf, eyes, probes, reader))
	if _, err := config.Parse([]byte(string(before)+"\n"+b.String()), file); err != nil {
		return "", text.Fail("setup.propose.unfit", text.Cause("err", err))
	}
	return b.String(), nil
}

// jars are the vessels for rangers, each with the thermometer found at its
// turn; which really hangs where only the baker knows.
func jars(c *config.Config, eyes, probes []string, reader text.Reader) string {
	taken := map[string]bool{}
	for _, v := range c.Vessels {
		taken[v.Name], taken[v.Slug] = true, true
	}
	var b strings.Builder
	for i, eye := range eyes {
		fmt.Fprintf(&b, "\n%s[[vessel]]\nname = %q\ndistance = %q\n", comment("setup.propose.jar", reader), freeName("jar", taken), eye)
		if i < len(probes) {
			fmt.Fprintf(&b, "temperature = %q\n", probes[i])
		}
	}
	return b.String()
}

// comment is a sentence as a comment of the configuration.
func comment(key string, r text.Reader, args ...text.Arg) string {
	said := text.Wrap(text.Say(key, args...).In(r))
	return "# " + strings.ReplaceAll(said, "\n", "\n# ") + "\n"
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
