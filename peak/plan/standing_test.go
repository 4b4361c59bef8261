package plan

import (
	"testing"
	"time"
)

// rising is the usual baker on Thursday at 08:56, with a jar that was fed at
// seven and is forecast to peak at 11:39, and bread wanted by Friday noon.
func rising() Problem {
	p := usual()
	p.Now, p.Ready, p.KeepG = moment(3, 8, 56), moment(4, 12, 0), 20
	fed := moment(3, 7, 0)
	p.Starter.FedAt = fed
	peak := moment(3, 11, 39).Sub(fed)
	p.Standing = &Standing{FedAt: fed, Ratio: Ratio{1, 1}, Warmth: Warmth{C: 24}, RipeG: 180,
		Ready: func(q float64) time.Duration { return peak + time.Duration((q-0.5)*40*float64(time.Minute)) }}
	return p
}

func TestUsesWhatStandsThere(t *testing.T) {
	past := func(min int) Ripe {
		return func(float64) time.Duration {
			return moment(3, 8, 56).Add(-time.Duration(min) * time.Minute).Sub(moment(3, 7, 0))
		}
	}
	tests := []struct {
		name   string
		change func(*Problem)
		uses   bool
	}{
		{"rising", func(*Problem) {}, true},
		{"at its peak", func(p *Problem) { p.Standing.Ready = past(5) }, true},
		{"within its useful hours", func(p *Problem) { p.Standing.Ready = past(80) }, true},
		{"long past its peak", func(p *Problem) {
			p.Standing.Ready, p.Now = past(0), moment(3, 14, 0)
		}, false},
		{"just enough", func(p *Problem) { p.Standing.RipeG = 120 }, true},
		{"20 g left", func(p *Problem) { p.Standing.RipeG = 20 }, false},
		{"bread in three days", func(p *Problem) { p.Ready = moment(6, 12, 0) }, false},
		{"in the fridge", func(p *Problem) { p.Starter.Chilled = true }, false},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			p := rising()
			tt.change(&p)
			best := find(t, p)[0]
			if (best.Uses != nil) != tt.uses {
				t.Fatalf("uses what stands there: %v, want %v; its steps are %+v", best.Uses != nil, tt.uses, best.Steps)
			}
			if !tt.uses {
				return
			}
			if best.Uses.UseG != 100 || best.Uses.KeepG != 20 {
				t.Errorf("use %g g and keep %g g, want 100 and 20", best.Uses.UseG, best.Uses.KeepG)
			}
			peak := p.Standing.FedAt.Add(p.Standing.Ready(0.5))
			if off := best.Uses.From.Sub(peak).Abs(); off > Slot {
				t.Errorf("ripe from %v; it peaks at %v", best.Uses.From, peak)
			}
			mix := best.Steps[0]
			if mix.Name != "mix" || mix.At.Before(peak.Add(-topEarly-Slot)) || mix.At.After(peak.Add(topLate+Slot)) {
				t.Errorf("first %s at %v; it peaks at %v", mix.Name, mix.At, peak)
			}
		})
	}
}
