package feedmath

import "testing"

func TestWaterC(t *testing.T) {
	for _, tt := range []struct {
		want, flour, starter, room, water float64
		ok                                bool
	}{
		{25, 21, 25, 21, 32, true},
		{24, 24, 24, 24, 23, true}, // all of it as warm as the dough: the water too, but for the friction
		{27, 16, 16, 16, 40, false},
		{20, 30, 30, 30, 4, false},
	} {
		if got, ok := WaterC(tt.want, tt.flour, tt.starter, tt.room); got != tt.water || ok != tt.ok {
			t.Errorf("%+v: got %g, %v", tt, got, ok)
		} else if dough := DoughC(got, tt.flour, tt.starter, tt.room); ok && dough != tt.want || !ok && dough == tt.want {
			t.Errorf("%+v: that water makes a dough of %g", tt, dough)
		}
	}
}
