package laser_test

import (
	"context"
	"errors"
	"math"
	"strings"
	"testing"
	"testing/synctest"

	"periph.io/x/conn/v3/i2c"

	"leavend/sensor"
	"leavend/sensor/bus/bustest"
	"leavend/sensor/internal/laser"
	"leavend/sensor/vl53l0x"
	"leavend/sensor/vl53l0x/vl53l0xtest"
	"leavend/sensor/vl53l1x"
	"leavend/sensor/vl53l1x/vl53l1xtest"
	"leavend/sensor/vl6180x"
	"leavend/sensor/vl6180x/vl6180xtest"
)

// ranger is a driver of a chip that may look through a glass.
type ranger interface {
	sensor.Source
	Crosstalk(ctx context.Context, targetMM float64, readings int) (kcps, meanMM float64, err error)
}

// kind is one chip with its driver.
type kind struct {
	name   string
	kcps   float64 // of the glass, in the unit of the chip's register
	mcps   float64 // the same, in all
	cardMM float64
	card   float64 // its reflectance
	farMM  float64
	step   float64 // of the register, in kcps
	new    func() (see func(mm, mcps float64), cover func(kcps float64), open func(kcps float64) (ranger, error))
}

// kinds are the three chips. The light that comes back is invented, as is the
// glass; the cards are those of ST's notes.
func kinds() []kind {
	return []kind{
		{"vl53l1x", 20, 0.32, 150, 0.17, 250, 1.0 / 512, func() (func(float64, float64), func(float64), func(float64) (ranger, error)) {
			chip := vl53l1xtest.New(vl53l1xtest.Sample{})
			return func(mm, mcps float64) {
					chip.See(vl53l1xtest.Sample{DistanceMM: mm, SigmaMM: 2, SignalMcps: mcps, Raw: 9})
				}, chip.Cover, func(kcps float64) (ranger, error) {
					return vl53l1x.New(wires(chip), laser.Addr, vl53l1x.Opts{BudgetMS: 20, XtalkKcps: kcps})
				}
		}},
		{"vl53l0x", 1.5, 0.33, 150, 0.17, 250, 1 / 8.192, func() (func(float64, float64), func(float64), func(float64) (ranger, error)) {
			chip := vl53l0xtest.New(vl53l0xtest.Sample{})
			return func(mm, mcps float64) {
					chip.See(vl53l0xtest.Sample{DistanceMM: mm, SignalMcps: mcps, Device: 11})
				}, chip.Cover, func(kcps float64) (ranger, error) {
					return vl53l0x.New(wires(chip), laser.Addr, vl53l0x.Opts{BudgetMS: 20, XtalkKcps: kcps})
				}
		}},
		{"vl6180x", 150, 0.15, 100, 0.03, 180, 1 / 0.128, func() (func(float64, float64), func(float64), func(float64) (ranger, error)) {
			chip := vl6180xtest.New(vl6180xtest.Sample{})
			return func(mm, mcps float64) { chip.See(vl6180xtest.Sample{DistanceMM: mm, SignalMcps: mcps}) },
				chip.Cover, func(kcps float64) (ranger, error) {
					return vl6180x.New(wires(chip), laser.Addr, vl6180x.Opts{XtalkKcps: kcps})
				}
		}},
	}
}

func wires(c bustest.Chip) i2c.Bus { return bustest.New("I2C1", c) }

// light is what comes back of a surface: by the square of the distance, and
// 6 million counts a second of a 17 % card at 100 mm.
func light(mm, reflectance float64) float64 { return 6 * reflectance / 0.17 * (100 / mm) * (100 / mm) }

// mean reads a surface often enough for the last digit to even out.
func mean(t *testing.T, r ranger) (mm float64) {
	t.Helper()
	const n = 40
	for range n {
		v, err := r.Read(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		mm += v.Value / n
	}
	return mm
}

// TestGlass draws readings short by a cover glass, measures it by a card, and
// lets the chip take it off. What is expected is the mean of two lights, worked
// out here: a target's at its distance, and the glass's at 0.
func TestGlass(t *testing.T) {
	for _, k := range kinds() {
		t.Run(k.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				see, cover, open := k.new()
				cover(k.kcps)
				bare, err := open(0)
				if err != nil {
					t.Fatal(err)
				}
				surfaces := []struct {
					what            string
					mm, reflectance float64
				}{{"dough, near", 60, 0.5}, {"dough, far", k.farMM, 0.5}, {"rye, far", k.farMM, 0.2}}
				var short []float64
				for _, s := range surfaces {
					back := light(s.mm, s.reflectance)
					see(s.mm, back)
					got, want := mean(t, bare), s.mm*back/(back+k.mcps)
					if math.Abs(got-want) > 0.1 {
						t.Errorf("%s: seen at %.2f mm, want %.2f", s.what, got, want)
					}
					short = append(short, s.mm-got)
				}
				if !(short[0] < short[1] && short[1] < short[2]) || short[2] < 8 {
					t.Errorf("the glass draws the readings short by %.1f mm: more for far and dark ones", short)
				}

				see(k.cardMM, light(k.cardMM, k.card))
				kcps, _, err := bare.Crosstalk(t.Context(), k.cardMM, 50)
				// The light of a reading comes in steps of 1/128 million counts.
				if err != nil || math.Abs(kcps-k.kcps) > 0.01*k.kcps+k.step/2 {
					t.Fatalf("the card says %.3f kcps, %v; the glass is %v", kcps, err, k.kcps)
				}
				clean, err := open(kcps)
				if err != nil {
					t.Fatal(err)
				}
				for i, s := range surfaces {
					see(s.mm, light(s.mm, s.reflectance))
					got := mean(t, clean)
					if math.Abs(got-s.mm) > 0.5+short[i]*k.step/k.kcps {
						t.Errorf("%s: seen at %.2f mm, want %v", s.what, got, s.mm)
					}
					t.Logf("%s at %v mm: %.1f mm short, and %.1f with the glass taken off", s.what, s.mm, short[i], s.mm-got)
				}

				// With the glass gone, what is still taken off makes it see too far.
				cover(0)
				if got := mean(t, clean); got <= k.farMM+3 {
					t.Errorf("without the glass it sees the surface at %v mm, as if it were there", got)
				}
				see(k.cardMM, k.mcps/2)
				if v, err := clean.Read(t.Context()); err == nil || !strings.Contains(err.Error(), "too little light") {
					t.Errorf("with more light taken off than there is: got %+v, %v", v, err)
				}
			})
		})
	}
}

// TestCardBarelySeen leaves single refused readings out, and gives up when they
// are most, or when the bus fails.
func TestCardBarelySeen(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		chip := vl53l1xtest.New(vl53l1xtest.Sample{})
		b := bustest.New("I2C1", chip)
		d, err := vl53l1x.New(b, laser.Addr, vl53l1x.Opts{BudgetMS: 20})
		if err != nil {
			t.Fatal(err)
		}
		script := func(every int) {
			chip.Script(func(n int) vl53l1xtest.Sample {
				s := vl53l1xtest.Sample{DistanceMM: 135, SigmaMM: 2, SignalMcps: 12, Raw: 9}
				if n%every != 0 {
					s.Raw = 6
				}
				return s
			})
		}
		script(1)
		if kcps, mm, err := d.Crosstalk(t.Context(), 150, 20); err != nil || math.Abs(kcps-75) > 1e-6 || math.Abs(mm-135) > 1e-6 {
			t.Errorf("got %v kcps, %v mm, %v", kcps, mm, err)
		}
		script(3)
		var refused *sensor.Refused
		if _, _, err := d.Crosstalk(t.Context(), 150, 20); !errors.As(err, &refused) {
			t.Errorf("most readings are refused: %v", err)
		}
		b.Fault(func(uint16, []byte, []byte) error { return bustest.NoAck() })
		if _, _, err := d.Crosstalk(t.Context(), 150, 20); err == nil || !strings.HasPrefix(err.Error(), "vl53l1x I2C1 0x29: ") {
			t.Errorf("unplugged: %v", err)
		}
	})
}
