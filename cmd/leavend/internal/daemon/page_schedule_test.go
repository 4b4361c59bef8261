package daemon

import (
	"errors"
	"testing"

	"github.com/google/go-cmp/cmp"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/failure"
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

// TestPageSetsTheSchedule follows a schedule from the page into the file, the
// mat and back to the page.
func TestPageSetsTheSchedule(t *testing.T) {
	d := scheduledHouse(t)
	page := pageOf(d)
	want := []web.Step{{From: "06:30", SetpointC: 25}, {From: "22:15", SetpointC: 21.5}}
	if err := page.Mats.SetSchedule(t.Context(), event.SubjectMat, []web.Step{want[1], want[0]}); err != nil {
		t.Fatal(err)
	}
	m := shownMat(d)
	if diff := cmp.Diff(want, m.Steps); diff != "" || m.StepsFixed {
		t.Errorf("fixed %v; (-want +got):\n%s", m.StepsFixed, diff)
	}
	again, err := config.Load(d.Conf.File)
	if err != nil || len(again.Mat.Schedule) != 2 {
		t.Errorf("the file has %+v, %v", again.Mat.Schedule, err)
	}
	var refused *failure.Refusal
	if err := page.Mats.SetSchedule(t.Context(), event.SubjectMat, []web.Step{{From: "06:30", SetpointC: 60}}); !errors.As(err, &refused) {
		t.Errorf("60 °C: %v, want a refusal", err)
	}
	if diff := cmp.Diff(want, shownMat(d).Steps); diff != "" {
		t.Error("a refused schedule changed something:", diff)
	}
	if err := page.Mats.SetSchedule(t.Context(), event.SubjectMat, nil); err != nil || len(shownMat(d).Steps) != 0 {
		t.Errorf("an empty one: %v, %v", err, shownMat(d).Steps)
	}
}
