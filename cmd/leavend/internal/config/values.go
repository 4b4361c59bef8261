package config

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

func (n *node) string() (string, bool) { return n.text, n.shape == isText }
func (n *node) flag() (bool, bool)     { return n.text == "true", n.shape == isFlag }
func (n *node) list() ([]*node, bool)  { return n.items, n.shape == isList }

// moment reads a date with a time of day, in a zone unless it names another.
func (n *node) moment(zone *time.Location) (time.Time, bool) {
	if n.shape != isText && n.shape != isTime {
		return time.Time{}, false
	}
	for _, layout := range []string{time.RFC3339, "2006-01-02T15:04:05", "2006-01-02 15:04:05", "2006-01-02T15:04", "2006-01-02 15:04"} {
		if t, err := time.ParseInLocation(layout, n.text, zone); err == nil {
			return t, true
		}
	}
	return time.Time{}, false
}

// gpioLine reads a GPIO line: a number on gpiochip0, or "gpiochip4:17".
func (n *node) gpioLine() (Line, bool) {
	l := Line{Chip: "gpiochip0", Set: true}
	var ok bool
	if n.shape == isText {
		chip, number, found := strings.Cut(n.text, ":")
		v, err := strconv.Atoi(number)
		l.Chip, l.Number = chip, v
		ok = found && err == nil && strconv.Itoa(v) == number && aGPIOChip().MatchString(chip)
	} else {
		l.Number, ok = n.whole()
	}
	return l, ok && l.Number >= 0 && l.Number <= 511
}

var aGPIOChip = later(`^gpiochip[0-9]{1,3}$`)

// number reads a TOML integer or float that the library has found valid.
func (n *node) number() (float64, bool) {
	text := strings.ReplaceAll(n.text, "_", "")
	switch n.shape {
	case isWhole:
		i, ok := n.whole()
		return float64(i), ok
	case isNumber:
		f, err := strconv.ParseFloat(text, 64)
		return f, err == nil
	}
	return 0, false
}

// whole reads a TOML integer: decimal, or with 0x, 0o or 0b in front.
func (n *node) whole() (int, bool) {
	if n.shape != isWhole {
		return 0, false
	}
	i, err := strconv.ParseInt(strings.ReplaceAll(n.text, "_", ""), 0, 0)
	return int(i), err == nil
}

// measure splits "79 F" into 79 and "F"; a bare number has no unit.
func measure(text string) (value float64, unit string, ok bool) {
	text = strings.TrimSpace(text)
	i := strings.LastIndexAny(text, "0123456789.")
	value, err := strconv.ParseFloat(text[:i+1], 64)
	if err != nil || value != value {
		return 0, "", false
	}
	return value, strings.TrimSpace(text[i+1:]), true
}

// celsius reads a temperature: a number of degrees Celsius, or text with its
// unit such as "26C" or "79 °F". With diff it is a difference of two
// temperatures, for which the zero of the Fahrenheit scale does not matter.
func (n *node) celsius(diff bool) (float64, bool) {
	if n.shape != isText {
		return n.number()
	}
	v, unit, ok := measure(n.text)
	if !ok {
		return 0, false
	}
	switch strings.TrimSpace(strings.TrimPrefix(unit, "°")) {
	case "C", "c":
		return v, true
	case "F", "f":
		if diff {
			return v * 5 / 9, true
		}
		return (v - 32) * 5 / 9, true
	}
	return 0, false
}

// millimetres reads a length: a number of millimetres, or text with its unit
// such as "165mm", "16.5 cm" or "6.5in".
func (n *node) millimetres() (float64, bool) {
	if n.shape != isText {
		return n.number()
	}
	v, unit, ok := measure(n.text)
	if !ok {
		return 0, false
	}
	scale, ok := map[string]float64{"mm": 1, "cm": 10, "m": 1000, "in": 25.4, `"`: 25.4}[unit]
	return v * scale, ok
}

// duration reads text such as "90s" or "1h30m".
func (n *node) duration() (time.Duration, bool) {
	if n.shape != isText {
		return 0, false
	}
	d, err := time.ParseDuration(strings.ReplaceAll(n.text, " ", ""))
	return d, err == nil
}

// ClockTime is a time of day, in minutes since midnight.
type ClockTime int

// String returns the time as "22:30".
func (c ClockTime) String() string { return fmt.Sprintf("%02d:%02d", int(c)/60, int(c)%60) }

// clockTime reads "22:30"; TOML's own local time, 22:30:00, does as well.
func (n *node) clockTime() (ClockTime, bool) {
	if n.shape != isText && n.shape != isTime {
		return 0, false
	}
	for _, layout := range []string{"15:04", "15:04:05", "3:04PM", "3:04 PM", "3:04pm", "3:04 pm"} {
		if t, err := time.Parse(layout, n.text); err == nil {
			return ClockTime(t.Hour()*60 + t.Minute()), true
		}
	}
	return 0, false
}

// plain returns a number without needless digits.
func plain(f float64) string {
	return strconv.FormatFloat(f, 'f', -1, 64)
}
