package sim

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"leavend/sensor"
)

func TestExponentialOfKnownMatrices(t *testing.T) {
	tests := []struct {
		name string
		m    []float64
		want []float64
	}{
		{"nothing", []float64{0, 0, 0, 0}, []float64{1, 0, 0, 1}},
		{"decay", []float64{-3, 0, 0, -40}, []float64{math.Exp(-3), 0, 0, math.Exp(-40)}},
		{"nilpotent", []float64{0, 5, 0, 0}, []float64{1, 5, 0, 1}},
		{"rotation", []float64{0, -2, 2, 0}, []float64{math.Cos(2), -math.Sin(2), math.Sin(2), math.Cos(2)}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got := matrix{2, 2, tt.m}.exp()
			for i := range tt.want {
				if math.Abs(got.v[i]-tt.want[i]) > 1e-12 {
					t.Errorf("entry %d is %.15f, want %.15f", i, got.v[i], tt.want[i])
				}
			}
		})
	}
}

// TestLumpedPlantFollowsTheTextbook joins all parts so well that they are one
// lump, whose answer to a step is T = Troom + P/G·(1 − exp(−G·t/C)).
func TestLumpedPlantFollowsTheTextbook(t *testing.T) {
	o := PlantOpts{
		Room: RoomOpts{MeanC: 18}, MatW: 20, MatLossWK: 1e-9, MatJK: 200, SlabJK: 60, GlassJK: 300,
		ContentsKg: 1, CoupleWK: 1e6, InnerWK: 1e6, CoreWK: 1e6, GlassLossWK: 0.8,
	}
	p := NewPlant(o)
	c := 200 + 60 + 300 + 2900.0
	for p.Elapsed() < 6*time.Hour {
		p.Step(30*time.Second, true)
		want := 18 + 20/0.8*(1-math.Exp(-0.8*p.Elapsed().Seconds()/c))
		if got := p.VesselC(); math.Abs(got-want) > 1e-3 {
			t.Fatalf("after %s the vessel is at %.5f °C, the textbook says %.5f", p.Elapsed(), got, want)
		}
	}
}

// TestSteadyPlantObeysOhm compares the settled plant with the resistances by
// hand: the mat's own loss beside the way through slab and glass.
func TestSteadyPlantObeysOhm(t *testing.T) {
	p := NewPlant(PlantOpts{Room: RoomOpts{MeanC: 20}, MatW: 25, MatLossWK: 1, CoupleWK: 2, GlassLossWK: 0.5})
	through := 1 / (1/2.0 + 1/0.5)
	mat := 20 + 25/(1+through)
	glass := 20 + (mat-20)*through/0.5
	for range 6000 {
		p.Step(time.Minute, true)
	}
	if math.Abs(p.MatC()-mat) > 1e-6 || math.Abs(p.VesselC()-glass) > 1e-6 {
		t.Errorf("settled at mat %.6f, vessel %.6f; Ohm's law says %.6f, %.6f", p.MatC(), p.VesselC(), mat, glass)
	}
	if got := p.SteadyC(20, 1); math.Abs(got-glass) > 1e-6 {
		t.Errorf("SteadyC says %.6f, want %.6f", got, glass)
	}
}

// TestExactStepAgreesWithSmallSteps integrates the same equations by the
// classical Runge–Kutta method in steps of half a second.
func TestExactStepAgreesWithSmallSteps(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 9))
	for range 5 {
		o := PlantOpts{MatW: between(rng, 8, 40), MatJK: between(rng, 80, 800), CoupleWK: between(rng, 0.7, 4), ContentsKg: between(rng, 0.2, 3),
			SlabJK: between(rng, 5, 5000), Room: RoomOpts{MeanC: 17}, StartC: 12}
		p := NewPlant(o)
		a, b := p.equations()
		x := p.x
		for k := range 120 {
			on := k%3 != 0
			u := [plantInputs]float64{0, 17, 17}
			if on {
				u[0] = o.MatW
			}
			p.Step(20*time.Second, on)
			for range 40 {
				x = rungeKutta(a, b, x, u, 0.5)
			}
		}
		for i := range x {
			if math.Abs(x[i]-p.x[i]) > 1e-6*math.Max(1, math.Abs(x[i])) {
				t.Errorf("state %d is %.9f, small steps give %.9f", i, p.x[i], x[i])
			}
		}
	}
}

func rungeKutta(a, b matrix, x [plantStates]float64, u [plantInputs]float64, h float64) [plantStates]float64 {
	slope := func(x [plantStates]float64) (d [plantStates]float64) {
		for i := range d {
			for j, v := range x {
				d[i] += *a.at(i, j) * v
			}
			for j, v := range u {
				d[i] += *b.at(i, j) * v
			}
		}
		return d
	}
	plus := func(k [plantStates]float64, f float64) (y [plantStates]float64) {
		for i := range y {
			y[i] = x[i] + f*k[i]
		}
		return y
	}
	k1 := slope(x)
	k2 := slope(plus(k1, h/2))
	k3 := slope(plus(k2, h/2))
	k4 := slope(plus(k3, h))
	for i := range x {
		x[i] += h / 6 * (k1[i] + 2*k2[i] + 2*k3[i] + k4[i])
	}
	return x
}

func TestStepsMayBeCutInAnyWay(t *testing.T) {
	o := PlantOpts{Room: RoomOpts{MeanC: 19}}
	a, b := NewPlant(o), NewPlant(o)
	for range 100 {
		a.Step(time.Minute, true)
		for _, ms := range []int{1, 7999, 52000} {
			b.Step(time.Duration(ms)*time.Millisecond, true)
		}
	}
	if math.Abs(a.VesselC()-b.VesselC()) > 1e-9 || a.HeatIn() != b.HeatIn() {
		t.Errorf("whole minutes give %.12f °C, cut ones %.12f", a.VesselC(), b.VesselC())
	}
}

func TestMatFails(t *testing.T) {
	tests := []struct {
		name   string
		state  MatState
		on     bool
		powerW float64
	}{
		{"sound and on", MatSound, true, 20},
		{"sound and off", MatSound, false, 0},
		{"welded and told off", MatStuckOn, false, 20},
		{"unplugged and told on", MatUnplugged, true, 0},
		{"half of its wire", MatHalf, true, 10},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			p := NewPlant(PlantOpts{MatW: 20})
			p.SetMat(tt.state)
			p.Step(time.Minute, tt.on)
			if p.PowerW() != tt.powerW {
				t.Errorf("draws %.0f W, want %.0f", p.PowerW(), tt.powerW)
			}
		})
	}
}

func TestFallenProbeReadsTheRoom(t *testing.T) {
	p := NewPlant(PlantOpts{Room: RoomOpts{MeanC: 16}, StartC: 26})
	p.SetProbeOut(true)
	for range 60 {
		p.Step(10*time.Second, true)
	}
	if got := p.ProbeC(sensor.AtVessel); math.Abs(got-16) > 0.1 {
		t.Errorf("the fallen probe shows %.2f °C in a room of 16", got)
	}
	if p.VesselC() < 25 {
		t.Errorf("the vessel cooled to %.2f °C in ten minutes", p.VesselC())
	}
}

func BenchmarkPlantStep(b *testing.B) {
	p := NewPlant(PlantOpts{})
	on := false
	for b.Loop() {
		p.Step(10*time.Second, on)
		on = !on
	}
}

func ExamplePlant() {
	p := NewPlant(PlantOpts{MatW: 25, ContentsKg: 0.8, Room: RoomOpts{MeanC: 18}})
	for p.Elapsed() < 2*time.Hour {
		p.Step(10*time.Second, p.ProbeC(sensor.AtVessel) < 24)
	}
	fmt.Printf("room %.1f °C, vessel %.1f °C, mat %.1f °C\n", p.RoomC(), p.VesselC(), p.MatC())
	// Output: room 18.0 °C, vessel 24.2 °C, mat 25.7 °C
}
