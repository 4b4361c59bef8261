package notify

import (
	"strings"
	"testing"
	"testing/synctest"
	"time"
)

// TestBakeIsSixMessages follows a bake of a plan from the feed to the oven: a jar and a
// bowl are watched, with a fold and a proof. The peak and the target name the step that
// follows, which is no message of its own.
func TestBakeIsSixMessages(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		k := start(t, nil, anna())
		defer k.close()
		step := func(name, text string) {
			k.hear(Event{Kind: StepDue, Vessel: "bramble", Name: "Bramble", At: time.Now(), For: time.Now().Add(10 * time.Minute), Until: time.Now().Add(time.Hour), Part: name, Text: text})
		}
		done := func(name string) { k.hear(Event{Kind: StepOver, Part: name, At: time.Now()}) }
		expects := func(o Outlook) {
			if err := k.Expect(t.Context(), o); err != nil {
				t.Error(err)
			}
			synctest.Wait()
		}
		feed := time.Now().Add(12 * time.Hour)
		k.hear(Event{Kind: StepAhead, Vessel: "bramble", Name: "Bramble", At: time.Now(), For: feed, Until: feed.Add(time.Hour), Part: "feed", Text: "Feed 1:2:2."})
		pass(12*time.Hour - 10*time.Minute)
		step("feed", "Feed 1:2:2.")
		pass(10 * time.Minute)
		done("feed")
		k.hear(Event{Kind: Fed, Vessel: "bramble", At: time.Now()})
		peak := time.Now().Add(5 * time.Hour)
		for range 29 { // the forecast of the jar, all the time
			pass(10 * time.Minute)
			expects(Outlook{Vessel: "bramble", Name: "Bramble", At: peak, Low: peak.Add(-time.Hour), High: peak.Add(time.Hour), Bake: true})
		}
		pass(10 * time.Minute)
		k.hear(Event{Kind: Peaked, Vessel: "bramble", Name: "Bramble", At: time.Now(), For: time.Now(), Bake: true, Step: "mix", Text: "Mix: 500 g of wheat.", Until: time.Now().Add(2 * time.Hour)})
		pass(10 * time.Minute)
		done("mix")
		k.hear(Event{Kind: BakerPresent, Vessel: "bramble", At: time.Now()})
		k.hear(Event{Kind: Fed, Vessel: "trough", At: time.Now()})
		pass(35 * time.Minute)
		step("fold 1", "Stretch and fold.")
		pass(15 * time.Minute)
		done("fold 1")
		risen := time.Now().Add(4 * time.Hour)
		for range 23 {
			pass(10 * time.Minute)
			expects(Outlook{Vessel: "trough", Name: "Trough", Bowl: true, At: risen, Low: risen.Add(-time.Hour), High: risen.Add(time.Hour), Bake: true})
		}
		pass(10 * time.Minute)
		k.hear(Event{Kind: Risen, Vessel: "trough", Name: "Trough", Bowl: true, At: time.Now(), For: time.Now(), Bake: true, Step: "shape", Text: "Shape.", Until: time.Now().Add(time.Hour)})
		pass(10 * time.Minute)
		done("shape")
		k.hear(Event{Kind: BakerPresent, Vessel: "trough", At: time.Now()})
		pass(10 * time.Hour)
		step("bake", "Oven on at 06:30.")
		pass(time.Hour)
		done("bake")
		pass(24 * time.Hour)
		all := k.phone.take()
		if len(all) > 6 {
			t.Errorf("a bake is %d messages: %q", len(all), titles(all))
		}
		var texts []string
		for _, l := range all {
			texts = append(texts, l.Text)
		}
		for _, want := range []string{"Next for your bake: Mix: 500 g of wheat", "Next for your bake: Shape"} {
			if !strings.Contains(strings.Join(texts, "\n"), want) {
				t.Errorf("no message says %q: %q", want, texts)
			}
		}
	})
}

// Who wants to hear of the plan's steps and not of peaks is told the step that follows a
// peak all the same.
func TestStepWithoutThePeak(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		only := anna()
		only.Kinds = []Kind{PlanStep}
		k := start(t, nil, only)
		defer k.close()
		k.hear(Event{Kind: Peaked, Vessel: "bramble", Name: "Bramble", At: time.Now(), For: time.Now(), Bake: true, Step: "mix", Text: "Mix: 500 g of wheat.", Until: time.Now().Add(2 * time.Hour)})
		pass(time.Hour)
		if got := titles(k.phone.take()); len(got) != 1 || !strings.HasPrefix(got[0], "Mix at ") {
			t.Errorf("it is told in %q", got)
		}
	})
}
