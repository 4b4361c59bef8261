package planning

import (
	"slices"
	"testing"
	"time"

	"leavend/peak/dough"
	"leavend/peak/plan"
)

var planned = time.Date(2026, 11, 28, 7, 30, 0, 0, time.UTC) // an invented Saturday's loaf

// keptPlan is a plan for that loaf, with a feed and a bake to do.
func keptPlan(fed, baked bool) *chosenPlan {
	return &chosenPlan{Ask: Ask{Vessel: "bramble", Ready: planned}, Shown: Plan{Loaf: planned, Steps: []Step{
		{Kind: "do", Name: plan.FeedName, Done: fed}, {Kind: "wait", Name: plan.TopName}, {Kind: "do", Name: "bake", Done: baked},
	}}}
}

// A plan is let go of some hours after its loaf; at once where all is done and
// another loaf waits.
func TestWhenAPlanIsOver(t *testing.T) {
	tests := []struct {
		name       string
		c          *chosenPlan
		after      time.Duration // the loaf
		next, want bool
	}{
		{"before the loaf", keptPlan(true, true), -time.Minute, true, false},
		{"all done, and none waits", keptPlan(true, true), time.Minute, false, false},
		{"all done, and the next waits", keptPlan(true, true), time.Minute, true, true},
		{"something left, and the next waits", keptPlan(true, false), time.Minute, true, false},
		{"something left for hours", keptPlan(false, false), keptAfter + time.Minute, false, true},
		{"just before that", keptPlan(false, false), keptAfter - time.Minute, true, false},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if got := tt.c.over(planned.Add(tt.after), tt.next); got != tt.want {
				t.Errorf("got %v", got)
			}
		})
	}
	late := keptPlan(false, false)
	late.Shown.Loaf = planned.Add(-5 * time.Hour)
	if late.over(planned, false) {
		t.Error("a plan whose loaf moved ahead is over before the hour that was asked for")
	}
}

// What is changed in a copy is not changed in the plan that readers see.
func TestCloneIsApart(t *testing.T) {
	c := keptPlan(false, false)
	c.Running = &runningWait{Began: planned.Add(-9 * time.Hour)}
	other := c.clone()
	other.Shown.Steps[0].Done, other.Running.Held = true, true
	if c.Shown.Steps[0].Done || c.Running.Held {
		t.Errorf("the plan changed with its copy: %+v", c)
	}
	c.Running = nil
	if c.clone().Running != nil {
		t.Error("a copy of a plan that waits for nothing waits")
	}
}

func TestRefreshesLeft(t *testing.T) {
	c := keptPlan(false, false)
	for _, done := range []bool{true, false, false} {
		c.Shown.Steps = append(c.Shown.Steps, Step{Kind: "do", Name: plan.RefreshFeed, Done: done}, Step{Kind: "wait", Name: plan.RefreshFeed})
	}
	if got := c.refreshesLeft(); got != 2 {
		t.Errorf("got %d, want 2", got)
	}
}

// A bulk that is ended for a proof in the fridge ends earlier than one for a
// proof in the room; a wait without dough ends for neither.
func TestWhatABulkIsEndedFor(t *testing.T) {
	tests := []struct {
		name string
		r    runningWait
		want *plan.Next
	}{
		{"the starter's rise", runningWait{Wait: plan.Wait{Top: true}}, nil},
		{"a bulk before a proof in the room", runningWait{Wait: plan.Wait{Rise: 0.5}}, new(dough.RoomProof)},
		{"a bulk before the fridge", runningWait{Wait: plan.Wait{Rise: 0.5}, Cold: true}, new(dough.ColdProof)},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got := tt.r.next()
			if (got == nil) != (tt.want == nil) || got != nil && *got != *tt.want {
				t.Errorf("got %v, want %v", got, tt.want)
			}
		})
	}
	for _, r := range []runningWait{{Wait: plan.Wait{Fridge: true}}, {Wait: plan.Wait{Cool: true}}, {Held: true}} {
		if !r.steady() {
			t.Errorf("what is seen moves %+v", r)
		}
	}
}

// A plan is worked out again only where the wait is likely over ten minutes or
// more away from what it says.
func TestMoved(t *testing.T) {
	began := planned.Add(-24 * time.Hour)
	c := keptPlan(true, false)
	c.Running = &runningWait{Began: began}
	c.Course.Waits = []plan.Wait{{Likely: began.Add(6 * time.Hour)}}
	seen := func(after time.Duration) plan.Ripe { return func(float64) time.Duration { return after } }
	for after, want := range map[time.Duration]bool{
		6 * time.Hour: false, 6*time.Hour + 9*time.Minute: false, 6*time.Hour + 10*time.Minute: true, 5*time.Hour + 50*time.Minute: true, 5*time.Hour + 51*time.Minute: false,
	} {
		if got := moved(c, seen(after)); got != want {
			t.Errorf("over after %v: %v", after, got)
		}
	}
	if moved(c, nil) || moved(&chosenPlan{}, seen(time.Hour)) {
		t.Error("a plan moves though nothing is seen, or nothing waits")
	}
}

func TestParseEvery(t *testing.T) {
	everyDay := []string{"Sunday", "Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday"}
	tests := []struct {
		text  string
		days  []string
		clock string
		ok    bool
	}{
		{"every Saturday 07:30", []string{"saturday"}, "07:30", true},
		{"Every tue and fri at 18:00", []string{"tue", "fri"}, "18:00", true},
		{"every Monday, Thursday 6:30 pm", []string{"monday", "thursday"}, "6:30 pm", true},
		{"every day 7:00", everyDay, "7:00", true},
		{"every Saturday and Sunday", []string{"saturday", "sunday"}, "", true},
		{"every 07:30 morning", nil, "07:30 morning", false},
		{"Saturday 07:30", nil, "", false},
		{"every Saturday", nil, "", false},
		{"", nil, "", false},
	}
	for _, tt := range tests {
		days, clock, ok := ParseEvery(tt.text)
		if ok != tt.ok || clock != tt.clock || !slices.Equal(days, tt.days) {
			t.Errorf("%q: got %q, %q, %v, want %q, %q, %v", tt.text, days, clock, ok, tt.days, tt.clock, tt.ok)
		}
	}
}

func TestParseDay(t *testing.T) {
	for name, want := range map[string]time.Weekday{"mon": time.Monday, "Monday": time.Monday, "thurs": time.Thursday, "SAT": time.Saturday, "sunday": time.Sunday} {
		if got, ok := parseDay(name); !ok || got != want {
			t.Errorf("%q is %v, %v", name, got, ok)
		}
	}
	for _, name := range []string{"", "mo", "mondays", "day", "xyz"} {
		if got, ok := parseDay(name); ok {
			t.Errorf("%q is read as %v", name, got)
		}
	}
}
