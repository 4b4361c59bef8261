package monitor

import (
	"math"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/store"
)

// TestKitchenIsMeasured fills invented days: a room that is cool at night, three stays of a
// jar in a fridge at 6 °C with its probe, and one without it.
func TestKitchenIsMeasured(t *testing.T) {
	now := time.Now().Truncate(time.Hour)
	m, _ := watched(t, "bramble", now, nil)
	ctx, s := t.Context(), m.Store
	if err := m.OpenKept(ctx); err != nil {
		t.Fatal(err)
	}
	room := func(at time.Time) float64 {
		return 20 + 2*math.Cos(2*math.Pi*(float64(at.In(m.Conf.Timezone).Hour())-16)/24)
	}
	chilled := map[int]float64{9: 60, 6: 45, 3: 60, 1: math.Inf(1)} // days ago: minutes in which it halves
	for day := 10; day > 0; day-- {
		at := now.AddDate(0, 0, -day)
		if _, err := s.Journal.AddFeed(ctx, store.Feed{Vessel: "bramble", At: at, KeptG: 50, WaterG: 100, Flours: []store.Flour{{Kind: "wheat", Grams: 100}}}); err != nil {
			t.Fatal(err)
		}
		half, in := chilled[day]
		for minute := 0; minute < 24*60; minute += 10 {
			then, after := at.Add(time.Duration(minute)*time.Minute), float64(minute)-120
			tempC := room(then)
			if in && after > 0 && !math.IsInf(half, 1) {
				tempC = 6 + (tempC-6)*math.Exp2(-after/half)
			}
			s.Readings.Add(store.Reading{Vessel: "bramble", Channel: store.RoomTemp, At: then, Value: room(then)})
			s.Readings.Add(store.Reading{Vessel: "bramble", Channel: store.Warmth, At: then, Value: tempC})
		}
		if in {
			if err := m.Fridge.Set(ctx, s, "bramble", at.Add(2*time.Hour)); err != nil {
				t.Fatal(err)
			}
			if err := m.Fridge.Set(ctx, s, "bramble", time.Time{}); err != nil {
				t.Fatal(err)
			}
		}
	}
	k, err := KitchenOf(ctx, s, m.Conf, "bramble", now)
	if err != nil {
		t.Fatal(err)
	}
	if k.Stays != 3 || math.Abs(k.FridgeC-6) > 0.5 {
		t.Errorf("%d stays at %.1f °C, want 3 at 6", k.Stays, k.FridgeC)
	}
	// The jar holds 250 g, of which the middle stay halves what is left in an hour.
	if got := k.Cooling(4, 0.25); math.Abs(got.Halves.Minutes()-60) > 6 || got.FridgeC != k.FridgeC {
		t.Errorf("250 g halve in %v at %.1f °C", got.Halves, got.FridgeC)
	}
	if small, large := k.Cooling(4, 0.25).Halves, k.Cooling(4, 1).Halves; large < small*3/2 {
		t.Errorf("a kilogram halves in %v, a quarter in %v", large, small)
	}
	if k.RoomDays < leastDays || math.Abs(k.RoomC[16]-22) > 0.3 || math.Abs(k.RoomC[4]-18) > 0.3 {
		t.Errorf("the room over %d days: %.1f", k.RoomDays, k.RoomC)
	}
	night := time.Date(2026, 11, 28, 4, 0, 0, 0, m.Conf.Timezone)
	if c := k.Course(20, night, m.Conf.Timezone); math.Abs(c(0)-18) > 0.3 || math.Abs(c(12*time.Hour)-22) > 0.3 {
		t.Errorf("at night %.1f, twelve hours later %.1f", c(0), c(12*time.Hour))
	}
}

// Of what was not measured, what the config says, or is assumed, holds.
func TestKitchenIsAssumed(t *testing.T) {
	m, _ := watched(t, "bramble", time.Now(), nil)
	k, err := KitchenOf(t.Context(), m.Store, m.Conf, "bramble", time.Now())
	if err != nil || k != (Kitchen{}) {
		t.Errorf("of an empty history: %+v, %v", k, err)
	}
	if c := k.Cooling(5, 0.9); c.FridgeC != 5 || c.Halves != 0 || c.MassKg != 0.9 {
		t.Errorf("it cools as %+v", c)
	}
	if _, measured := k.RoomMean(); measured || k.Half() != jarHalf || k.Course(21, time.Now(), time.UTC)(time.Hour) != 21 {
		t.Error("room and mat are not as assumed")
	}
}

// TestWeakMatIsMeasured has an invented mat heat through a cold night and come to 24 °C and
// no more, and then hold 22 °C with pauses.
func TestWeakMatIsMeasured(t *testing.T) {
	now := time.Now().Truncate(time.Hour)
	for _, tt := range []struct {
		name string
		on   func(hour int) float64
		want float64
	}{
		{"it heats all night", func(hour int) float64 { return map[bool]float64{true: 1, false: 0.4}[hour < 9] }, 8},
		{"it pauses", func(int) float64 { return 0.9 }, 0},
	} {
		t.Run(tt.name, func(t *testing.T) {
			m, _ := watched(t, "bramble", now, nil)
			m.Conf.Mat.Vessel, m.Conf.Mat.Output = "Bramble", "gpio"
			for minute := range 20 * 60 {
				at, hour := now.Add(time.Duration(minute-20*60)*time.Minute), minute/60
				on, tempC := 0.0, 22.0
				if float64(minute%10)/10 < tt.on(hour) {
					on = 1
				}
				if hour < 9 {
					tempC = 24 - 6*math.Exp2(-float64(minute)/50)
				}
				for c, v := range map[store.Channel]float64{store.MatOn: on, store.Warmth: tempC, store.RoomTemp: 16} {
					m.Store.Readings.Add(store.Reading{Vessel: "bramble", Channel: c, At: at, Value: v})
				}
			}
			k, err := KitchenOf(t.Context(), m.Store, m.Conf, "bramble", now)
			if err != nil || math.Abs(k.MatLiftC-tt.want) > 0.3 {
				t.Errorf("it lifts by %.2f °C, want %g; %v", k.MatLiftC, tt.want, err)
			}
		})
	}
}
