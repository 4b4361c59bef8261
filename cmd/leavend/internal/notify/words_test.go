package notify

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/leavendtest/golden"
	"leavend/cmd/leavend/internal/text"
)

// TestWords holds every sentence that a baker may get against a file that a
// person can read through.
func TestWords(t *testing.T) {
	berlin, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	top := time.Date(2026, 11, 25, 17, 40, 0, 0, time.UTC) // 18:40 there
	jar := Notice{Vessel: "bramble", Name: "Bramble", At: top, RiseRatio: 2.63, RiseMM: 81}
	bowl := Notice{Vessel: "dough", Name: "Blue bowl", Bowl: true, At: top, RiseMM: 45}
	with := func(n Notice, change func(*Notice)) Notice { change(&n); return n }
	kind := func(k Kind) func(*Notice) { return func(n *Notice) { n.Kind = k } }
	fault := func(k Kind, name, text string) Notice {
		return Notice{Kind: k, Vessel: "x", Name: name, At: top, Text: text}
	}
	tests := []struct {
		name string
		n    Notice
		now  time.Time
		w    Renderer
	}{
		{"heads-up", with(jar, func(n *Notice) {
			n.Kind, n.Low, n.High = HeadsUp, top.Add(-25*time.Minute), top.Add(30*time.Minute)
		}), top.Add(-30 * time.Minute), Renderer{text.Reader{Zone: berlin}}},
		{"heads-up moved later", with(jar, func(n *Notice) { n.Kind, n.PreviousAt = HeadsUp, top.Add(-20*time.Minute) }), top.Add(-35 * time.Minute), Renderer{text.Reader{Zone: berlin}}},
		{"heads-up moved sooner", with(jar, func(n *Notice) { n.Kind, n.PreviousAt = HeadsUp, top.Add(40*time.Minute) }), top.Add(-2 * time.Minute), Renderer{text.Reader{Zone: berlin}}},
		{"heads-up long before", with(jar, kind(HeadsUp)), top.Add(-2 * time.Hour), Renderer{text.Reader{Zone: berlin}}},
		{"heads-up of a bowl, 12 hours", with(bowl, kind(HeadsUp)), top.Add(-30 * time.Minute), Renderer{text.Reader{Zone: berlin, Hours12: true}}},
		{"top", with(jar, kind(OnTop)), top.Add(12 * time.Minute), Renderer{text.Reader{Zone: berlin}}},
		{"top, called ahead of it", with(jar, kind(OnTop)), top.Add(-15 * time.Minute), Renderer{text.Reader{Zone: berlin}}},
		{"top, said again", with(jar, func(n *Notice) { n.Kind, n.Repeat = OnTop, 1 }), top.Add(27 * time.Minute), Renderer{text.Reader{Zone: berlin}}},
		{"top, three hours old", with(jar, kind(OnTop)), top.Add(3 * time.Hour), Renderer{text.Reader{Zone: berlin}}},
		{"top, yesterday's", with(jar, kind(OnTop)), top.Add(13 * time.Hour), Renderer{text.Reader{Zone: berlin}}},
		{"top without a floor, 12 hours, inches", with(jar, func(n *Notice) { n.Kind, n.RiseRatio = OnTop, 0 }), top.Add(12 * time.Minute), Renderer{text.Reader{Zone: berlin, Hours12: true, Inches: true}}},
		{"falling", with(jar, kind(Falling)), top.Add(90 * time.Minute), Renderer{text.Reader{Zone: berlin}}},
		{"target soon", with(bowl, func(n *Notice) { n.Kind, n.Low, n.High = TargetSoon, top.Add(-time.Hour), top.Add(time.Hour) }), top.Add(-9 * time.Hour), Renderer{text.Reader{Zone: berlin}}},
		{"target", with(bowl, kind(AtTarget)), top.Add(5 * time.Minute), Renderer{text.Reader{Zone: berlin}}},
		{"target, late", with(bowl, kind(AtTarget)), top.Add(2 * time.Hour), Renderer{text.Reader{Zone: berlin}}},
		{"dough going over", with(bowl, func(n *Notice) { n.Kind, n.Over = AtTarget, true }), top.Add(2 * time.Hour), Renderer{text.Reader{Zone: berlin}}},
		{"dough past its best", with(bowl, func(n *Notice) { n.Kind, n.Over, n.Past = AtTarget, true, true }), top.Add(4 * time.Hour), Renderer{text.Reader{Zone: berlin}}},
		{"feed due", with(jar, kind(FeedDue)), top.Add(25 * time.Hour), Renderer{text.Reader{Zone: berlin}}},
		{"feed long due", with(jar, kind(FeedDue)), top.Add(75 * time.Hour), Renderer{text.Reader{Zone: berlin}}},
		{"feed due in the fridge", with(jar, func(n *Notice) { n.Kind, n.Cold = FeedDue, true }), top.Add(7 * 24 * time.Hour), Renderer{text.Reader{Zone: berlin}}},
		{"feed long due in the fridge", with(jar, func(n *Notice) { n.Kind, n.Cold, n.Late = FeedDue, true, true }), top.Add(15 * 24 * time.Hour), Renderer{text.Reader{Zone: berlin}}},
		{"worn switch", Notice{Kind: Worn, Vessel: "mat", Name: "Heat mat", At: top, Count: 80_000, Life: 100_000}, top, Renderer{text.Reader{Zone: berlin}}},
		{"clean jar due", with(jar, func(n *Notice) { n.Kind, n.Count = CleanJar, 5 }), top.Add(time.Hour), Renderer{text.Reader{Zone: berlin}}},
		{"a step of the plan", with(jar, func(n *Notice) {
			n.Kind, n.Step, n.Text, n.Until = PlanStep, "mix", "Mix: 100 g of ripe starter, 500 g of wheat. Then bulk on the mat at 24 °C.", top.Add(90*time.Minute)
		}), top.Add(-10 * time.Minute), Renderer{text.Reader{Zone: berlin}}},
		{"a step that cannot wait", with(jar, func(n *Notice) {
			n.Kind, n.Step, n.Text, n.Until = PlanStep, "bake", "Oven on at 18:20. Bake for 40 min.", top
		}), top.Add(-20 * time.Minute), Renderer{text.Reader{Zone: berlin, Hours12: true}}},
		{"a plan that fails", with(jar, func(n *Notice) {
			n.Kind, n.Text = PlanStep, "The loaf can no longer be ready by Sat 07:30; it could be by Sat 09:10."
		}), top, Renderer{text.Reader{Zone: berlin}}},
		{"an hour that cannot be met", with(jar, func(n *Notice) {
			n.Kind, n.ReadyBy, n.Text = PlanStep, true, "The top will not come before 20:40; the mat does all it can."
		}), top, Renderer{text.Reader{Zone: berlin}}},
		{"mat fault", fault(MatFault, "the mat", "The mat is switched off and the vessel keeps warming. The switch may be stuck on: pull the mat's plug now, and look."), top, Renderer{text.Reader{Zone: berlin}}},
		{"sensor fault", fault(SensorFault, "Bramble", "The thermometer of Bramble does not answer. Check its cable and its plug."), top, Renderer{text.Reader{Zone: berlin}}},
		{"storage trouble", fault(Storage, "the kitchen", "readings cannot be stored: the disk is full; 214 wait in memory"), top, Renderer{text.Reader{Zone: berlin}}},
		{"back to normal", with(fault(Normal, "Bramble", "probe crumb: no acknowledge"), func(n *Notice) { n.Fault, n.Times, n.Until = SensorFault, 1, top.Add(20*time.Minute) }), top.Add(30 * time.Minute), Renderer{text.Reader{Zone: berlin}}},
		{"back to normal after flapping", with(fault(Normal, "Bramble", "probe crumb: no acknowledge"), func(n *Notice) { n.Fault, n.Times, n.Until = SensorFault, 14, top.Add(70*time.Minute) }), top.Add(80 * time.Minute), Renderer{text.Reader{Zone: berlin}}},
		{"still flapping", with(fault(Normal, "Bramble", "probe crumb: no acknowledge"), func(n *Notice) {
			n.Fault, n.Times, n.Until, n.Stays = SensorFault, 40, top.Add(6*time.Hour), true
		}), top.Add(6 * time.Hour), Renderer{text.Reader{Zone: berlin}}},
		{"mat back to normal", with(fault(Normal, "the mat", "no fresh temperature"), func(n *Notice) { n.Fault, n.Times, n.Until = MatFault, 1, top.Add(20*time.Minute) }), top.Add(30 * time.Minute), Renderer{text.Reader{Zone: berlin}}},
		{"test", Notice{Kind: Test, At: top}, top, Renderer{text.Reader{Zone: berlin}}},
	}
	var b strings.Builder
	for _, tt := range tests {
		l := tt.w.Render(tt.n, tt.now)
		fmt.Fprintf(&b, "# %s\n%s\n%s\n\n", tt.name, l.Title, l.Text)
	}
	w := Renderer{text.Reader{Zone: berlin}}
	l := w.merge([]Message{w.Render(with(jar, kind(OnTop)), top.Add(12*time.Hour)), w.Render(with(jar, kind(Falling)), top.Add(12*time.Hour))})
	fmt.Fprintf(&b, "# gathered\n%s\n%s\n", l.Title, l.Text)
	golden.Compare(t, "testdata/words.txt", b.String())
}
