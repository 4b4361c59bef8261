package daemon

import (
	"context"
	"encoding/json"
	"errors"
	"log/slog"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"leavend/cmd/leavend/internal/config/configtest"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/notify"
	"leavend/cmd/leavend/internal/planning"
	"leavend/cmd/leavend/internal/store"
	"leavend/peak"
	"leavend/sensor/sim/simtest"
)

// planningDaemon is as much of a daemon as the keeper needs, with a clock that is
// set by hand.
func planningDaemon(t *testing.T, dir string, now time.Time) *Daemon {
	t.Helper()
	ctx := context.Background()
	conf := configtest.Parse(t, leavendtest.PlanConfig+leavendtest.PlanMat+tellPhone)
	d := &Daemon{Monitor: monitor.NewMonitor(conf, event.NewClock(now, 2), slog.New(slog.DiscardHandler))}
	var err error
	if d.Store, _, err = store.Open(ctx, filepath.Join(dir, "leavend.db"), store.Opts{Clock: store.SteadyClock(d.Clock.Now, t.Name()+now.String())}); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { d.Store.Close() })
	if err = d.openEvents(ctx); err != nil {
		t.Fatal(err)
	}
	for _, v := range conf.Vessels {
		d.Vessels = append(d.Vessels, monitor.NewVessel(v, nil))
	}
	phone := &testPhone{}
	d.plans = planning.NewKeeper(ctx, d.Monitor)
	if err := d.openMessages(ctx, func(string, string) (notify.Sender, error) { return phone, nil }); err != nil {
		t.Fatal(err)
	}
	return d
}

// to sets the clock.
func (d *Daemon) to(t *testing.T, at time.Time) {
	t.Helper()
	d.Clock.Advance(at.Sub(d.Clock.Now()))
	if err := d.plans.Tick(context.Background(), at); err != nil {
		t.Fatal(err)
	}
}

// told returns the titles of the plan's messages that wait to be sent.
func (d *Daemon) told(t *testing.T) []string {
	t.Helper()
	var out []string
	for _, n := range d.notices(t) {
		if n.Kind == notify.PlanStep {
			out = append(out, notify.OptsOf(d.Conf).Renderer.Render(n, d.Clock.Now()).Text)
		}
	}
	return out
}

// notices returns the messages in the event log.
func (d *Daemon) notices(t *testing.T) []notify.Notice {
	t.Helper()
	held, err := d.Store.EventLog.LoadLog(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	var all []notify.Notice
	for _, r := range held.Records {
		var n notify.Notice
		if err := json.Unmarshal(r.Body, &n); err != nil {
			t.Fatal(err)
		}
		if r.To != "" {
			all = append(all, n)
		}
	}
	return all
}

// chooses asks for a loaf on Saturday and takes the best plan.
func (d *Daemon) chooses(t *testing.T) *planning.Chosen {
	t.Helper()
	ctx := context.Background()
	sheet, err := d.plans.Offer(ctx, planning.Ask{Ready: leavendtest.ThursdayEvening.Add(37*time.Hour + 26*time.Minute)})
	if err != nil || len(sheet.Plans) == 0 {
		t.Fatalf("%v, %+v", err, sheet)
	}
	if err := d.plans.Choose(ctx, sheet.Plans[0].ID); err != nil {
		t.Fatal(err)
	}
	return d.plans.Chosen()
}

func stepOf(t *testing.T, c *planning.Chosen, name string) planning.Step {
	t.Helper()
	for _, s := range c.Plan.Steps {
		if s.Name == name {
			return s
		}
	}
	t.Fatalf("no step %q in %+v", name, c.Plan.Steps)
	return planning.Step{}
}

func TestPlanIsKeptAndTold(t *testing.T) {
	dir := t.TempDir()
	d := planningDaemon(t, dir, leavendtest.ThursdayEvening)
	c := d.chooses(t)
	feed := stepOf(t, c, "feed")
	d.to(t, feed.At.Add(-11*time.Minute))
	if got := d.told(t); len(got) != 0 {
		t.Errorf("told eleven minutes ahead: %q", got)
	}
	d.to(t, feed.At.Add(-9*time.Minute))
	d.to(t, feed.At.Add(-8*time.Minute))
	if got := d.told(t); len(got) != 1 || !strings.HasPrefix(got[0], "Feed 1:") {
		t.Errorf("told nine minutes ahead: %q, want the feed once", got)
	}
	// After a restart the plan is there, and nothing is told twice.
	again := planningDaemon(t, t.TempDir(), leavendtest.ThursdayEvening)
	again.Store.Close()
	again.Store = d.Store
	if err := again.openPlans(context.Background()); err != nil {
		t.Fatal(err)
	}
	if got := again.plans.Chosen(); got == nil || !stepOf(t, got, "feed").Told || got.Plan.ID != c.Plan.ID {
		t.Errorf("after a restart the plan is %+v", got)
	}
}

func TestFeedDoesTheFeedStep(t *testing.T) {
	d := planningDaemon(t, t.TempDir(), leavendtest.ThursdayEvening)
	c := d.chooses(t)
	feed, mix := stepOf(t, c, "feed"), stepOf(t, c, "mix")
	fed := func(at time.Time) {
		d.Clock.Advance(at.Sub(d.Clock.Now()))
		d.plans.Hear(monitor.Item{Event: &event.Event{Kind: event.Fed, Subject: "bramble", At: at, Detected: peak.Event{FeedAt: at}}})
	}
	fed(leavendtest.ThursdayEvening.Add(time.Hour))
	if stepOf(t, d.plans.Chosen(), "feed").Done {
		t.Error("a feed of the evening before is taken for the plan's")
	}
	d.to(t, feed.At)
	late := feed.At.Add(50 * time.Minute)
	fed(late)
	got := d.plans.Chosen()
	if s := stepOf(t, got, "feed"); !s.Done || !s.At.Equal(late) {
		t.Errorf("the feed step after the feed: %+v", s)
	}
	moved := stepOf(t, got, "mix")
	if by := moved.At.Sub(mix.At); by < 20*time.Minute || by > 80*time.Minute {
		t.Errorf("fed 50 minutes late, the mix moves by %v", by)
	}
	if stepOf(t, got, "bake").At != stepOf(t, c, "bake").At {
		t.Errorf("the bake moved to %v", stepOf(t, got, "bake").At)
	}
}

// foretold is a forecast of a curve's own, within so much on either side.
func foretold(at time.Time, within time.Duration) *monitor.Forecast {
	return &monitor.Forecast{At: at, Low: at.Add(-within), High: at.Add(within), Source: monitor.OwnCurve}
}

// The top is forecast, then called, at other hours than planned; the mix
// follows it, and is told again if it was told for another hour.
func TestTopMovesThePlan(t *testing.T) {
	d := planningDaemon(t, t.TempDir(), leavendtest.ThursdayEvening)
	ctx := context.Background()
	c := d.chooses(t)
	feed, top := stepOf(t, c, "feed"), stepOf(t, c, "top")
	d.to(t, feed.At)
	if err := d.plans.Done(ctx, "feed"); err != nil {
		t.Fatal(err)
	}
	planned := stepOf(t, d.plans.Chosen(), "mix").At
	status := monitor.Status{Feed: &monitor.FeedStatus{At: feed.At}}
	d.plans.StatusOf = func(*monitor.Vessel, time.Time) monitor.Status { return status }
	later := top.At.Add(100 * time.Minute)
	status.Forecast = foretold(later, 20*time.Minute)
	d.to(t, feed.At.Add(90*time.Minute))
	if by := stepOf(t, d.plans.Chosen(), "mix").At.Sub(planned); by < 60*time.Minute || by > 3*time.Hour {
		t.Errorf("the top is foretold 100 minutes later and the mix moves by %v", by)
	}
	called := feed.At.Add(3 * time.Hour)
	status.Call = &monitor.Call{MadeAt: called, At: called.Add(-10 * time.Minute)}
	d.to(t, called)
	mix := stepOf(t, d.plans.Chosen(), "mix")
	if wait := mix.At.Sub(called); wait < 0 || wait > 80*time.Minute {
		t.Errorf("the top is called, and the mix stands %v after the call", wait)
	}
	d.to(t, mix.At.Add(-5*time.Minute))
	told := d.told(t)
	alone := slices.ContainsFunc(told, func(s string) bool { return strings.HasPrefix(s, "Mix:") })
	if next, ok := d.plans.Awaits("bramble"); alone != (mix.At.Sub(called) > 30*time.Minute) || !ok || next.Name != "mix" {
		t.Errorf("the mix is %v after the call, told in %q; the peak names %q", mix.At.Sub(called), told, next.Name)
	}
}

func TestDroppedPlanIsSilent(t *testing.T) {
	d := planningDaemon(t, t.TempDir(), leavendtest.ThursdayEvening)
	c := d.chooses(t)
	if err := d.plans.Drop(context.Background()); err != nil {
		t.Fatal(err)
	}
	d.to(t, stepOf(t, c, "feed").At)
	if got := d.told(t); len(got) != 0 || d.plans.Chosen() != nil {
		t.Errorf("after the drop: %q, %+v", got, d.plans.Chosen())
	}
	if err := d.plans.Done(context.Background(), "feed"); !errors.Is(err, failure.ErrUnknown) {
		t.Errorf("a step of no plan: %v", err)
	}
}

// The feed does not come. The plan moves on as long as it can, and then says so once.
func TestForgottenFeed(t *testing.T) {
	simtest.NotUnderRace(t)
	d := planningDaemon(t, t.TempDir(), leavendtest.ThursdayEvening)
	c := d.chooses(t)
	d.to(t, stepOf(t, c, "feed").Latest.Add(20*time.Minute))
	got := d.plans.Chosen()
	if f := stepOf(t, got, "feed"); f.Done || !f.At.After(d.Clock.Now().Add(-time.Minute)) {
		t.Errorf("the feed is still planned for %v", f.At)
	}
	for h := range 12 {
		d.to(t, c.Ask.Ready.Add(time.Duration(h-13)*time.Hour))
	}
	got = d.plans.Chosen()
	if got.Trouble == nil || !strings.Contains(got.Trouble.Text, "can no longer be ready by 07:30") {
		t.Errorf("an hour before the loaf, unfed: %+v", got.Trouble)
	}
	fails := 0
	for _, s := range d.told(t) {
		if strings.Contains(s, "no longer") || strings.Contains(s, "hardly") {
			fails++
		}
	}
	if fails != 1 {
		t.Errorf("that the plan fails is told %d times: %q", fails, d.told(t))
	}
	d.to(t, c.Ask.Ready.Add(7*time.Hour))
	if d.plans.Chosen() != nil {
		t.Error("the plan is kept seven hours after the hour of its loaf")
	}
}

func TestOldOfferIsRefused(t *testing.T) {
	d := planningDaemon(t, t.TempDir(), leavendtest.ThursdayEvening)
	var refusal *failure.Refusal
	if err := d.plans.Choose(context.Background(), "x-1"); !errors.As(err, &refusal) || refusal.Code != "stale" {
		t.Errorf("got %v", err)
	}
	if _, err := d.plans.Offer(context.Background(), planning.Ask{Ready: leavendtest.ThursdayEvening.Add(-time.Hour)}); !errors.As(err, &refusal) || refusal.Code != "past-hour" {
		t.Errorf("a loaf in the past: %v", err)
	}
}

// TestPlanInTheKitchen goes through feed and top in the whole invented daemon:
// the baker's press does the feed step, and the mix is told after the call.
func TestPlanInTheKitchen(t *testing.T) {
	simtest.NotUnderRace(t)
	dir := t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		k := invented(t)
		var phone testPhone
		text := "timezone = \"UTC\"\n" + leavendtest.JarConfig(dir) + tellPhone + "[plan]\nasleep_from = \"00:00\"\nasleep_to = \"00:00\"\n"
		h := openTestDaemon(t, k, text, phone.parts)
		ctx := context.Background()
		sheet, err := h.plans.Offer(ctx, planning.Ask{Ready: time.Now().Add(16 * time.Hour)})
		if err != nil || len(sheet.Plans) == 0 {
			t.Fatalf("%v, %+v", err, sheet)
		}
		if err := h.plans.Choose(ctx, sheet.Plans[0].ID); err != nil {
			t.Fatal(err)
		}
		if _, err := h.Fed(ctx, "bramble", store.Feed{}); err != nil {
			t.Fatal(err)
		}
		h.pass(t, time.Minute, nil)
		if f := stepOf(t, h.plans.Chosen(), "feed"); !f.Mat {
			t.Fatalf("the plan does not use the mat: %+v", f)
		}
		if request := h.readyBy.Request(); request.At.IsZero() || !strings.Contains(stepOf(t, h.plans.Chosen(), "top").Text, "steered to "+request.At.UTC().Format("15:04")) {
			t.Errorf("after the feed the mat is steered to %v, and the plan says %q", request.At, stepOf(t, h.plans.Chosen(), "top").Text)
		}
		h.pass(t, 7*time.Hour, nil)
		if err := h.plans.Done(ctx, "mix"); err != nil {
			t.Error(err)
		}
		if request := h.readyBy.Request(); !request.At.IsZero() {
			t.Errorf("the dough is mixed, and the mat is still steered to %v", request.At)
		}
		c := h.plans.Chosen()
		h.close(t)
		if c == nil || !stepOf(t, c, "feed").Done {
			t.Fatalf("the feed step is not done: %+v", c)
		}
		letters, at := phone.of(notify.OnTop)
		for i, l := range letters {
			t.Logf("%v: %s | %s", at[i].Format("15:04"), l.Title, l.Text)
		}
		tops := h.of(event.Peak)
		if len(tops) == 0 {
			t.Fatal("no top was called in seven hours")
		}
		i := slices.IndexFunc(letters, func(l notify.Message) bool { return strings.Contains(l.Text, "Next for your bake: Mix") })
		if i < 0 || at[i].Sub(tops[0].Detected.PeakAt).Abs() > 2*time.Hour {
			t.Errorf("the peak was at %v; the mix is told as %v at %v", tops[0].Detected.PeakAt, letters, at)
		}
	})
}

// openPlans recalls the plan as after a start.
func (d *Daemon) openPlans(ctx context.Context) error {
	d.plans = planning.NewKeeper(ctx, d.Monitor)
	if d.messages != nil {
		d.plans.Notifier = d.messages
	}
	return nil
}
