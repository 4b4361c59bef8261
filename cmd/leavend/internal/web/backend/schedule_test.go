package backend

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/web"
)

func TestSteps(t *testing.T) {
	tests := []struct {
		name  string
		slots []config.Slot
		steps []web.Step
		fixed bool
	}{
		{"none", nil, []web.Step{}, false},
		{"day and night", []config.Slot{{From: 22 * 60, To: 7 * 60, SetpointC: 22}, {From: 7 * 60, To: 22 * 60, SetpointC: 26}}, []web.Step{{From: "07:00", SetpointC: 26}, {From: "22:00", SetpointC: 22}}, false},
		{"all day", []config.Slot{{SetpointC: 24}}, []web.Step{{From: "00:00", SetpointC: 24}}, false},
		{"a gap", []config.Slot{{From: 22 * 60, To: 7 * 60, SetpointC: 22}}, []web.Step{{From: "22:00", SetpointC: 22}}, true},
		{"a stage", []config.Slot{{Stage: "at-top", SetpointC: 20}}, []web.Step{}, true},
		{"a rest", []config.Slot{{Rest: true}}, []web.Step{}, true},
		{"days", []config.Slot{{Days: []config.Day{"sat"}, SetpointC: 25}}, []web.Step{}, true},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			steps, fixed := stepsOf(tt.slots)
			if diff := cmp.Diff(tt.steps, steps); diff != "" || fixed != tt.fixed {
				t.Errorf("fixed %v, want %v; (-want +got):\n%s", fixed, tt.fixed, diff)
			}
		})
	}
}
