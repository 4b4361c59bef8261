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
