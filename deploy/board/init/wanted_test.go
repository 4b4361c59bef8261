//go:build linux

package main

import "testing"

// A scene that is not there is an error, and not a success without a row.
func TestWanted(t *testing.T) {
	for line, want := range map[string]int{
		"console=ttyS1 rdinit=/init":               len(scenes()),
		"rdinit=/init scenes=brief":                len(brief()),
		"scenes=cutoff,clocksteps":                 2,
		"scenes=cutoff,clock":                      -1,
		"scenes=":                                  -1,
		"scenes=85.000°C,matoff,matoffotherfolder": 3,
	} {
		got, err := wanted(line)
		if want < 0 != (err != nil) || err == nil && len(got) != want {
			t.Errorf("%q: %d scenes, %v, want %d", line, len(got), err, want)
		}
	}
}

// A line that cannot be told is no "off".
func TestLevel(t *testing.T) {
	for list, want := range map[string]string{
		"registered pins: 54\npin 17 (gpio17) 0:? function gpio_out in hi; irq 167 (none)\n": "out high",
		"pin 17 (gpio17) 0:? function gpio_out in lo; irq 167 (none)\n":                      "out low",
		"pin 17 (gpio17) 0:? function gpio_in in lo; irq 167 (none)\n":                       "in",
		"pin 17 (gpio17) 0:? function alt0 in lo; irq 167 (none)\n":                          "",
		"pin 18 (gpio18) 0:? function gpio_in in lo; irq 167 (none)\n":                       "",
		"": "",
	} {
		got, err := levelIn(list)
		if got != want || (err == nil) != (want != "") {
			t.Errorf("%q: %q, %v, want %q", list, got, err, want)
		}
	}
}
