package w1

import (
	"errors"
	"path/filepath"
	"testing"
	"testing/synctest"
	"time"
)

// printed is the scratchpad of a copy after power-on as a public survey of
// counterfeit DS18B20 prints it: 25 °C, and other bytes in the reserved places.
// Its last byte does not fit the others, of which application note 27 makes
// 0x96, so one of the nine is misprinted.
var printed = [9]byte{0x90, 0x01, 0x55, 0x05, 0x7F, 0x7E, 0x81, 0x66, 0x27}

// TestCopy holds the decoder to that scratchpad: refused as printed, and with a
// checksum that fits 25 °C of a copy.
func TestCopy(t *testing.T) {
	if _, _, err := families["28"].scratchpad([]byte(slave(printed))); !errors.Is(err, ErrChecksum) {
		t.Errorf("as printed: %v", err)
	}
	if pad := copyAt(25 * 16); pad[8] != 0x96 {
		t.Errorf("checksum 0x%02x, want 0x96", pad[8])
	}
	tempC, f, err := families["28"].scratchpad([]byte(slave(copyAt(25 * 16))))
	if err != nil || tempC != 25 || !f.copied() {
		t.Errorf("got %v, %v, copied %v", tempC, err, f.copied())
	}
}

// copyAt is a copy's scratchpad at a temperature in sixteenths.
func copyAt(register uint16) [9]byte {
	pad := printed
	pad[0], pad[1] = byte(register), byte(register>>8)
	pad[8] = crc8(pad[:8])
	return pad
}

// probeOf is a probe on a fake tree, and what sets its scratchpad.
func probeOf(t *testing.T, opts Opts) (*Dev, func(pad [9]byte)) {
	t.Helper()
	opts.Root = t.TempDir()
	d, err := New(id, opts)
	if err != nil {
		t.Fatal(err)
	}
	return d, func(pad [9]byte) { put(t, filepath.Join(opts.Root, id, "w1_slave"), slave(pad)) }
}

// TestCopyWakesUp refuses a copy's 25.0 °C after a dip of its supply, for as
// long as it stands there, and takes a 25.0 °C that it came to by steps.
func TestCopyWakesUp(t *testing.T) {
	d, set := probeOf(t, Opts{})
	steps := []struct {
		what     string
		register uint16
		want     error
	}{
		{"its first answer is not believed in any case", 0x0190, ErrUnsettled},
		{"woken up", 0x0190, ErrWoken},
		{"still", 0x0190, ErrWoken},
		{"it converts", 23*16 + 8, nil},
		{"warmer", 24*16 + 15, nil},
		{"25 by steps", 25 * 16, nil},
		{"and stays there", 25 * 16, nil},
		{"the fridge", 5 * 16, nil},
		{"a dip of the supply", 25 * 16, ErrWoken},
		{"over", 5 * 16, nil},
	}
	for _, s := range steps {
		set(copyAt(s.register))
		if r, err := d.Read(t.Context()); !errors.Is(err, s.want) || err == nil && r.Value != float64(s.register)/16 {
			t.Errorf("%s: got %v, %v, want %v", s.what, r.Value, err, s.want)
		}
	}
	// A genuine one is believed at 25 °C at once: it wakes up at 85.
	d, set = probeOf(t, Opts{})
	set(scratchpad(25 * 16))
	if r, err := d.Read(t.Context()); err != nil || r.Value != 25 {
		t.Errorf("a genuine one: %v, %v", r.Value, err)
	}
}

// TestStandsStill refuses a reading that has not moved by its last digit for
// two hours, as where each conversion is lost and the kernel passes the old
// scratchpad on, and takes the first that does. In a fridge it may stand.
func TestStandsStill(t *testing.T) {
	for _, tt := range []struct {
		name     string
		register uint16
		want     error
	}{
		{"on the mat", 26 * 16, ErrStill},
		{"in the fridge", 4 * 16, nil},
	} {
		t.Run(tt.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				d, set := probeOf(t, Opts{Still: 2 * time.Hour})
				set(scratchpad(tt.register))
				start := time.Now()
				var err error
				for err == nil && time.Since(start) < 4*time.Hour {
					if _, err = d.Read(t.Context()); err == nil {
						time.Sleep(time.Minute)
					}
				}
				if !errors.Is(err, tt.want) || err != nil && time.Since(start) != 2*time.Hour {
					t.Errorf("got %v after %v, want %v", err, time.Since(start), tt.want)
				}
				set(scratchpad(tt.register + 1))
				if r, err := d.Read(t.Context()); err != nil || r.Value != float64(tt.register+1)/16 {
					t.Errorf("when it moves: %v, %v", r.Value, err)
				}
			})
		})
	}
}
