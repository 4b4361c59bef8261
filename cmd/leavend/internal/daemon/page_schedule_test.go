package daemon

import (
	"errors"
	"testing"

	"github.com/google/go-cmp/cmp"

	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/web"
)

// TestPageSetsTheSchedule follows a schedule from the page to the mat and back to
// the page.
func TestPageSetsTheSchedule(t *testing.T) {
	d := scheduledDaemon(t)
	page := pageOf(d)
	want := []web.Step{{From: "06:30", SetpointC: 25}, {From: "22:15", SetpointC: 21.5}}
	if err := page.Mats.SetSchedule(t.Context(), event.SubjectMat, []web.Step{want[1], want[0]}); err != nil {
		t.Fatal(err)
	}
	m := shownMat(d)
	if diff := cmp.Diff(want, m.Steps); diff != "" || m.StepsFixed || !m.StepsOwn {
		t.Errorf("fixed %v, own %v; (-want +got):\n%s", m.StepsFixed, m.StepsOwn, diff)
	}
	var refused *failure.Refusal
	if err := page.Mats.SetSchedule(t.Context(), event.SubjectMat, []web.Step{{From: "06:30", SetpointC: 60}}); !errors.As(err, &refused) {
		t.Errorf("60 °C: %v, want a refusal", err)
	}
	if diff := cmp.Diff(want, shownMat(d).Steps); diff != "" {
		t.Error("a refused schedule changed something:", diff)
	}
	for _, none := range [][]web.Step{{}, nil} {
		err := page.Mats.SetSchedule(t.Context(), event.SubjectMat, none)
		if m := shownMat(d); err != nil || len(m.Steps) != 0 || m.StepsOwn != (none != nil) {
			t.Errorf("an empty one: %v, own %v, %v", err, m.StepsOwn, m.Steps)
		}
	}
}
