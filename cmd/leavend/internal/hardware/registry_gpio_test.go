package hardware

import (
	"errors"
	"leavend/cmd/leavend/internal/config/configtest"
	"leavend/sensor/bus/bustest"
	"leavend/sensor/sht/shttest"
	"leavend/sensor/ultrasonic"
	"leavend/sensor/ultrasonic/ultrasonictest"
	"leavend/sensor/vl53l1x/vl53l1xtest"
	"leavend/sensor/w1/w1test"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"periph.io/x/conn/v3/gpio"
)

// An echo ranger is corrected by the air that a thermometer on another bus
// measures, while it does.
func TestOpenUltrasonic(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		// The time sound takes for 200 mm and back at 30 °C.
		pulse := time.Duration(2 * 0.2 / ultrasonic.Speed(30, 50) * float64(time.Second))
		r := ultrasonictest.New(func(int) ultrasonictest.Echo { return ultrasonictest.Echo{Pulse: pulse} })
		bus := bustest.New("I2C1", shttest.New(false, 0x44, 30, 50))
		channels := openAll(t, softRegistry(bus, map[int]gpio.PinIO{5: r.Trigger, 6: r.Echo}), `
[[sensor]]
name = "echo"
chip = "ultrasonic"
trigger = 5
echo = 6
air = "room"
air_c = 10
[[sensor]]
name = "room"
chip = "sht3x"
`)
		cold := 200 * ultrasonic.Speed(10, 50) / ultrasonic.Speed(30, 50)
		reads(t, channels["echo/distance"], cold, 0.1)
		reads(t, channels["room/temperature"], 30, 0.01)
		reads(t, channels["echo/distance"], 200, 0.1)
		time.Sleep(airKept + time.Second)
		reads(t, channels["echo/distance"], cold, 0.1)
	})
}

// The kernel's devices are found by their folders.
func TestOpenKernel(t *testing.T) {
	dir := t.TempDir()
	for name, text := range map[string]string{"in_distance_raw": "139\n", "in_distance_scale": "0.001\n", "temp1_input": "24500\n"} {
		configtest.WriteFile(t, filepath.Join(dir, name), text)
	}
	channels := openAll(t, softRegistry(nil, nil), `
[[sensor]]
name = "eye"
chip = "iio"
quantity = "distance"
device = "`+dir+`"
[[sensor]]
name = "probe"
chip = "hwmon"
device = "`+dir+`"
`)
	reads(t, channels["eye/distance"], 139, 0)
	reads(t, channels["probe/temperature"], 24.5, 0)
}

// A bus with two spare lines is clocked free, and read again with the next
// reading.
func TestStuckBusIsFreed(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		channel := bustest.New("I2C1", shttest.New(false, 0x44, 22, 55))
		scl, sda := channel.Lines()
		channels := openAll(t, softRegistry(channel, map[int]gpio.PinIO{20: scl, 21: sda}), `
[[i2c]]
free_scl = 20
free_sda = 21
[[sensor]]
name = "room"
chip = "sht3x"
`)
		room := channels["room/temperature"]
		reads(t, room, 22, 0.01)
		time.Sleep(10 * time.Second)
		channel.Stick(5)
		if _, err := room.Source.Read(t.Context()); err == nil || !strings.Contains(err.Error(), "freed by 5 clock pulses") {
			t.Errorf("got %v", err)
		}
		time.Sleep(10 * time.Second)
		reads(t, room, 22, 0.01)
		if n := scl.DrivenHigh() + sda.DrivenHigh(); n != 0 {
			t.Errorf("a line of the bus was driven high %d times", n)
		}
	})
}

// Two probes on one bus of a kernel that can convert together; one alone does
// not ask for it.
func TestProbesConvertTogether(t *testing.T) {
	for probes, want := range map[int]string{1: "idle\n", 2: "trigger\n"} {
		dir := t.TempDir()
		bulk := filepath.Join(dir, "w1_bus_master1", "therm_bulk_read")
		if err := errors.Join(os.Mkdir(filepath.Dir(bulk), 0o755), os.WriteFile(bulk, []byte("idle\n"), 0o644)); err != nil {
			t.Fatal(err)
		}
		text := ""
		for i := range probes {
			id := "28-00000000000" + string(rune('1'+i))
			// 25.0625 °C and its checksum, from the example of the data sheet.
			pad := "91 01 4b 46 7f ff 0c 10 "
			pad += w1test.Checksum(pad)
			slave := pad + " : crc=" + pad[24:] + " YES\n" + pad + " t=25062\n"
			if err := errors.Join(os.Mkdir(filepath.Join(dir, id), 0o755), os.WriteFile(filepath.Join(dir, id, "w1_slave"), []byte(slave), 0o644)); err != nil {
				t.Fatal(err)
			}
			text += "[[sensor]]\nname = \"p" + id + "\"\nchip = \"ds18b20\"\nid = \"" + id + "\"\npath = \"" + dir + "\"\n"
		}
		for _, w := range openAll(t, softRegistry(nil, nil), text) {
			reads(t, w, 25.0625, 0.001)
		}
		if got, _ := os.ReadFile(bulk); string(got) != want {
			t.Errorf("%d probes: the kernel was told %q, want %q", probes, got, want)
		}
	}
}

// A ranger's noise decides how many readings make one; a thermometer is taken
// as it is.
func TestRangersAreSteadied(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		chip := vl53l1xtest.New(vl53l1xtest.Sample{DistanceMM: 101, SigmaMM: 2, SignalMcps: 10, Raw: 9})
		channels := openAll(t, softRegistry(bustest.New("I2C1", chip, shttest.New(false, 0x44, 22, 55)), nil),
			"[[sensor]]\nname = \"eye\"\nchip = \"vl53l1x\"\n[[sensor]]\nname = \"room\"\nchip = \"sht3x\"\n")
		w := Steadied(channels["eye/distance"], 5*time.Second)
		for range 10 {
			reads(t, w, 101, 0.1)
		}
		if says := Averaging(w.Source); says.Key != "check.sensor.as_it_comes" {
			t.Errorf("it says %q", says.Key)
		}
		if w := Steadied(channels["room/temperature"], time.Second); !Averaging(w.Source).IsZero() || w.Source != channels["room/temperature"].Source {
			t.Error("a thermometer is averaged")
		}
	})
}
