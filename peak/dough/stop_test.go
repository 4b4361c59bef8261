package dough

import (
	"math"
	"testing"
	"time"
)

// TestStops holds the table to common practice (no source): wheat at a fifth of
// starter before a cold proof from 30 % at 27 °C to 100 % below 20 °C, 75 to 100 %
// before a proof in the room, rye 30 to 50 %.
func TestStops(t *testing.T) {
	s := UsualStops()
	if err := s.Check(); err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		c    float64
		next Next
		want float64
	}{
		{27, ColdProof, 0.30}, {30, ColdProof, 0.30}, {19, ColdProof, 1}, {16, ColdProof, 1},
		{25.5, ColdProof, 0.40}, {24, RoomProof, 0.75}, {18, RoomProof, 1}, {27, RyeBake, 0.30}, {19, RyeBake, 0.50},
	} {
		if got := s.Rise(tt.c, tt.next); math.Abs(got-tt.want) > 1e-9 {
			t.Errorf("at %g °C before %v: %g, want %g", tt.c, tt.next, got, tt.want)
		}
	}
	for c := 15.0; c < 32; c += 0.5 {
		for _, next := range []Next{RoomProof, ColdProof, RyeBake} {
			if s.Rise(c+0.5, next) > s.Rise(c, next)+1e-9 {
				t.Errorf("warmer than %g °C it should rise more before %v", c, next)
			}
		}
	}
	if (Stops{{20, 1, 1, 1}, {25, 1, 1, 1}}).Check() == nil || (Stops{{20, 0, 1, 1}}).Check() == nil {
		t.Error("a bad table was taken")
	}
}

// TestCooling: a loaf of a kilogram takes hours to be cold in the fridge, a small one
// less (the time constants are computed, not measured).
func TestCooling(t *testing.T) {
	kilo := Cooling{MassKg: 1}
	if got, ok := kilo.Until(27, 10); !ok || got < 3*time.Hour || got > 5*time.Hour {
		t.Errorf("from 27 to 10 °C in %v", got)
	}
	if _, ok := kilo.Until(27, 4); ok {
		t.Error("it comes down to the fridge's own temperature")
	}
	small, _ := Cooling{MassKg: 0.4}.Until(27, 10)
	large, _ := Cooling{MassKg: 2}.Until(27, 10)
	if one, _ := kilo.Until(27, 10); small >= one || large <= one {
		t.Errorf("400 g in %v, a kilogram in %v, two in %v", small, one, large)
	}
}

// TestBulkEndsEarlierForALargeDoughAndAWarmFridge: a dough of two kilograms, or one in a
// fridge at 8 °C, goes on for longer than the loaf that the table is for; a fast dough
// goes further in the same hours. Nothing ends it later than the table does.
func TestBulkEndsEarlierForALargeDoughAndAWarmFridge(t *testing.T) {
	usual := usualDoubles()
	before := func(doubles float64, c Cooling) float64 { return Before(0.5, 24, doubles, c) }
	if got := before(usual, Cooling{}); math.Abs(got-0.5) > 1e-9 {
		t.Errorf("the usual loaf ends at %.2f", got)
	}
	if got := before(2*usual, Cooling{MassKg: 0.4}); got > 0.5 {
		t.Errorf("a slow, small dough ends at %.2f", got)
	}
	for name, got := range map[string]float64{
		"two kilograms": before(usual, Cooling{MassKg: 2}), "a fridge at 8 °C": before(usual, Cooling{FridgeC: 8}),
		"a fast dough": before(usual/2, Cooling{}), "a fridge that cools slowly": before(usual, Cooling{Halves: 4 * time.Hour}),
	} {
		if !(got < 0.45 && got >= leastBefore) {
			t.Errorf("%s: it ends at %.2f", name, got)
		}
	}
}
