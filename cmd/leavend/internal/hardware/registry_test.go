package hardware

import (
	"errors"
	"math"
	"os"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/i2c"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/config/configtest"
	"leavend/cmd/leavend/internal/event"
	"leavend/sensor"
	"leavend/sensor/ads1115/ads1115test"
	"leavend/sensor/bme280/bme280test"
	"leavend/sensor/bus/bustest"
	"leavend/sensor/mux/muxtest"
	"leavend/sensor/sht/shttest"
	"leavend/sensor/vl53l0x/vl53l0xtest"
	"leavend/sensor/vl53l1x/vl53l1xtest"
	"leavend/sensor/vl6180x/vl6180xtest"
)

// softBus is an emulated bus that can be closed.
type softBus struct{ *bustest.Bus }

// Close does nothing.
func (softBus) Close() error { return nil }

// softRegistry is a registry on an emulated bus and emulated lines.
func softRegistry(bus *bustest.Bus, pins map[int]gpio.PinIO) *Registry {
	return &Registry{
		Clock: event.NewClock(time.Now(), 1),
		Bus: func(number int) (i2c.BusCloser, error) {
			if number != 1 || bus == nil {
				return nil, os.ErrNotExist
			}
			return softBus{bus}, nil
		},
		Line: func(l config.Line) (gpio.PinIO, error) {
			if pin, ok := pins[l.Number]; ok {
				return pin, nil
			}
			return nil, errors.New("gpio: no such line")
		},
	}
}

// openAll opens every sensor of a config as the daemon does.
func openAll(t *testing.T, b *Registry, text string) map[string]Channel {
	t.Helper()
	conf := configtest.Parse(t, text)
	b.Prepare(conf.Sensors, conf.Buses...)
	channels := map[string]Channel{}
	for _, s := range conf.Sensors {
		opened, err := b.Open(s)
		if err != nil {
			t.Fatal(err)
		}
		for _, w := range opened {
			channels[w.Key().Item()] = w
		}
	}
	return channels
}

// reads reads a channel and compares.
func reads(t *testing.T, w Channel, want, within float64) {
	t.Helper()
	if w.Source == nil {
		t.Fatal("the channel was not made")
	}
	r, err := w.Source.Read(t.Context())
	if err != nil {
		t.Errorf("%s: %v", w.Key().Item(), err)
		return
	}
	if r.Quantity != w.Quantity || math.Abs(r.Value-want) > within {
		t.Errorf("%s: got %v %v, want %v", w.Key().Item(), r.Value, r.Quantity, want)
	}
}

// ntcVolts is what stands across a thermistor below 10 kΩ on 3.3 V, by the
// beta equation 1/T = 1/298.15 + ln(R/10k)/3950.
func ntcVolts(tempC float64) float64 {
	ohms := 10e3 * math.Exp(3950*(1/(tempC+273.15)-1/298.15))
	return 3.3 * ohms / (ohms + 10e3)
}

// Every chip on the bus is opened from a config and read from its emulator.
func TestOpenChips(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ntc := ads1115test.New(0x48, [4]float64{ntcVolts(24), ntcVolts(27), 3.3, 0})
		bus := bustest.New("I2C1", ntc, shttest.New(false, 0x44, 22, 55), shttest.New(true, 0x45, 28, 70), bme280test.New(true),
			vl53l1xtest.New(vl53l1xtest.Sample{DistanceMM: 101, SigmaMM: 2, SignalMcps: 10, Raw: 9}))
		channels := openAll(t, softRegistry(bus, nil), `
[[sensor]]
name = "eye"
chip = "vl53l1x"
roi = 8
long = true
budget = "50ms"
offset_mm = -1
[[sensor]]
name = "dough"
chip = "ads1115-ntc"
channel = 0
[[sensor]]
name = "pad"
chip = "ads1115-ntc"
channel = 1
supply_channel = 2
place = "mat"
[[sensor]]
name = "room"
chip = "sht3x"
offset_c = 0.5
[[sensor]]
name = "box"
chip = "sht4x"
address = 0x45
[[sensor]]
name = "cellar"
chip = "bme280"
`)
		if len(channels) != 9 {
			t.Errorf("got %d channels, want 9", len(channels))
		}
		for range 2 { // one read must not spoil the next of its neighbours
			reads(t, channels["eye/distance"], 100, 0)
			reads(t, channels["dough/temperature"], 24, 0.1)
			reads(t, channels["pad/temperature"], 27, 0.1)
			reads(t, channels["room/temperature"], 22.5, 0.01)
			reads(t, channels["room/humidity"], 55, 0.01)
			reads(t, channels["box/temperature"], 28, 0.01)
			reads(t, channels["box/humidity"], 70, 0.01)
			reads(t, channels["cellar/temperature"], 25.08, 0.01)
			reads(t, channels["cellar/humidity"], 35, 1)
		}
		var all []Channel
		for _, w := range channels {
			all = append(all, w)
		}
		if on := ByBus(all); len(on) != 1 || len(on["i2c-1"]) != 9 || on["i2c-1"][0].Quantity != sensor.Temperature {
			t.Errorf("one bus is not read by one goroutine, temperatures first: %v", on)
		}
	})
}

// A BMP280 measures no humidity.
func TestOpenBMP280(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		channels := openAll(t, softRegistry(bustest.New("I2C1", bme280test.New(false)), nil), "[[sensor]]\nname = \"cellar\"\nchip = \"bmp280\"\n")
		reads(t, channels["cellar/temperature"], 25.08, 0.01)
		if len(channels) != 1 {
			t.Errorf("got %d channels, want 1", len(channels))
		}
	})
}

func TestOpenOtherRangers(t *testing.T) {
	for chip, emulated := range map[string]func() bustest.Chip{
		"vl53l0x": func() bustest.Chip {
			return vl53l0xtest.New(vl53l0xtest.Sample{DistanceMM: 102, SignalMcps: 10, Device: 11})
		},
		"vl53l4cd": func() bustest.Chip {
			return vl53l1xtest.NewL4CD(vl53l1xtest.Sample{DistanceMM: 102, SigmaMM: 2, SignalMcps: 10, Raw: 9})
		},
		"vl6180x": func() bustest.Chip { return vl6180xtest.New(vl6180xtest.Sample{DistanceMM: 102, SignalMcps: 10}) },
	} {
		t.Run(chip, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				channels := openAll(t, softRegistry(bustest.New("I2C1", emulated()), nil), "[[sensor]]\nname = \"eye\"\nchip = \""+chip+"\"\n")
				reads(t, channels["eye/distance"], 102, 0)
			})
		})
	}
}

// Crosstalk stands in the config in thousand counts a second. The VL53L1X
// keeps it in its register 0x0016 in units of 1/512 thousand counts (ST's
// ultra lite driver: (cps << 9) / 1000), the VL53L0X in register 0x20 of page
// 0 in units of 1/8192 million counts (STSW-IMG005: 3.13 fixed point).
func TestOpenWithCrosstalk(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		one := vl53l1xtest.New(vl53l1xtest.Sample{DistanceMM: 102, SigmaMM: 2, SignalMcps: 10, Raw: 9})
		one.Cover(1.5)
		channels := openAll(t, softRegistry(bustest.New("I2C1", one), nil), "[[sensor]]\nname = \"eye\"\nchip = \"vl53l1x\"\ncrosstalk_kcps = 1.5\n")
		reads(t, channels["eye/distance"], 102, 0)
		one.Do(func(m *bustest.Memory) {
			if got := m.U16(0x0016); got != 768 {
				t.Errorf("vl53l1x: the register holds %d, want 768", got)
			}
		})
		zero := vl53l0xtest.New(vl53l0xtest.Sample{DistanceMM: 102, SignalMcps: 10, Device: 11})
		zero.Cover(125)
		channels = openAll(t, softRegistry(bustest.New("I2C1", zero), nil), "[[sensor]]\nname = \"eye\"\nchip = \"vl53l0x\"\ncrosstalk_kcps = 125\n")
		reads(t, channels["eye/distance"], 102, 0)
		page := zero.Page(0)
		if got := int(page[0x20])<<8 | int(page[0x21]); got != 1024 {
			t.Errorf("vl53l0x: the register holds %d, want 1024", got)
		}
	})
}

// Two jars with the same ranger behind two multiplexers, which share a bus.
func TestOpenBehindMultiplexers(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		first, second := muxtest.New(0x70), muxtest.New(0x71)
		board := muxtest.Board("I2C1", first, second)
		for i, at := range []*bustest.Bus{first.Behind(2), first.Behind(3), second.Behind(2)} {
			at.Attach(vl53l1xtest.New(vl53l1xtest.Sample{DistanceMM: 100 + float64(i), SigmaMM: 2, SignalMcps: 10, Raw: 9}))
		}
		channels := openAll(t, softRegistry(board, nil), `
[[sensor]]
name = "a"
chip = "vl53l1x"
mux = 0x70
mux_channel = 2
[[sensor]]
name = "b"
chip = "vl53l1x"
mux = 0x70
mux_channel = 3
[[sensor]]
name = "c"
chip = "vl53l1x"
mux = 0x71
mux_channel = 2
`)
		for range 2 {
			reads(t, channels["a/distance"], 100, 0)
			reads(t, channels["b/distance"], 101, 0)
			reads(t, channels["c/distance"], 102, 0)
		}
		if a, c := channels["a/distance"].Bus, channels["c/distance"].Bus; a != c {
			t.Errorf("%s and %s are read by two goroutines", a, c)
		}
	})
}

const twoShut = `
[[sensor]]
name = "a"
chip = "vl53l1x"
xshut = 23
address = 0x30
[[sensor]]
name = "b"
chip = "vl53l0x"
xshut = "gpiochip0:24"
address = 0x31
`

// sleepers is two rangers on one bus, each with its shut-down line.
func sleepers() (*bustest.Bus, map[int]gpio.PinIO, []*bustest.Core) {
	a := vl53l1xtest.New(vl53l1xtest.Sample{DistanceMM: 100, SigmaMM: 2, SignalMcps: 10, Raw: 9})
	b := vl53l0xtest.New(vl53l0xtest.Sample{DistanceMM: 101, SignalMcps: 10, Device: 11})
	cores := []*bustest.Core{a.Core, b.Core}
	pins := map[int]gpio.PinIO{}
	for i, core := range cores {
		pin := bustest.NewPin("GPIO")
		pin.OnMove(func(l gpio.Level) { core.Power(bool(l)) })
		pins[23+i] = pin
	}
	return bustest.New("I2C1", a, b), pins, cores
}

func TestOpenBehindShutdownLines(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		bus, pins, cores := sleepers()
		channels := openAll(t, softRegistry(bus, pins), twoShut)
		reads(t, channels["a/distance"], 100, 0)
		reads(t, channels["b/distance"], 101, 0)
		if cores[0].Addr() != 0x30 || cores[1].Addr() != 0x31 {
			t.Errorf("they sit at %#x and %#x", cores[0].Addr(), cores[1].Addr())
		}
	})
}

// A command that opens one ranger keeps the others asleep all the same.
func TestOpenOneOfTheSleepers(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		bus, pins, cores := sleepers()
		conf := configtest.Parse(t, twoShut)
		b := softRegistry(bus, pins)
		b.Prepare(conf.Sensors)
		channels, err := b.Open(conf.Sensors[1])
		if err != nil {
			t.Fatal(err)
		}
		reads(t, channels[0], 101, 0)
		if cores[0].Addr() != 0 {
			t.Errorf("the ranger that is not read is awake at %#x", cores[0].Addr())
		}
	})
}

// What is not there is told with each read, and is no reason not to start; a
// ranger that can never work is.
func TestOpenWhatIsMissing(t *testing.T) {
	const two = twoShut + "[[sensor]]\nname = \"echo\"\nchip = \"ultrasonic\"\ntrigger = 5\necho = 6\n"
	channels := openAll(t, softRegistry(nil, map[int]gpio.PinIO{23: bustest.NewPin("GPIO23")}), two)
	for name, want := range map[string]string{
		"a/distance": "i2c bus 1: file does not exist; is it switched on", "b/distance": "its shut-down line: gpio: no such line", "echo/distance": "gpio: no such line",
	} {
		if _, err := channels[name].Source.Read(t.Context()); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: got %v, want %q", name, err, want)
		}
	}
}

// A bus that is switched on later is found, and closed in the end.
func TestLateBus(t *testing.T) {
	tries := 0
	l := &lazyBus{number: 1, open: func(int) (i2c.BusCloser, error) {
		if tries++; tries == 1 {
			return nil, os.ErrNotExist
		}
		return softBus{bustest.New("I2C1", shttest.New(false, 0x44, 20, 50))}, nil
	}}
	if err := l.Tx(0x44, nil, nil); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("got %v", err)
	}
	if err := errors.Join(l.Tx(0x44, []byte{0x24, 0}, nil), l.Close(), l.Close()); err != nil || tries != 2 {
		t.Errorf("got %v after %d tries", err, tries)
	}
}
