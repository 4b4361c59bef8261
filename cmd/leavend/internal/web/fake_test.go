package web

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strconv"
	"sync"
	"time"

	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/text"
)

// fakeHouse is an invented kitchen for the tests: two jars, a bowl and two
// mats, with a year of feeds. All its numbers are made up.
type fakeHouse struct {
	mu         sync.Mutex
	now        func() time.Time
	shift      time.Duration
	feeds      map[string][]Feed
	bakes      []Bake
	moves      []DiscardMove
	starters   []Starter // of bramble
	leave      time.Time // a holiday begins then
	home       time.Time // and is over then
	recipes    []Recipe
	noLoaf     bool // the example was taken out
	ownStop    bool // plans go by the best loaves
	fridge     map[string]time.Time
	used       map[string]Used
	names      map[string]string
	gone       map[string]bool
	hours      Hours
	floors     map[string]float64
	asks       []Ask
	devices    map[string]PushDevice
	targetTime *TargetTime // of bramble
	plans      fakePlans
	photos     map[string][]byte
	mats       []Mat
	stale      time.Duration // how old the newest readings are
	lost       map[string]bool
	stands     map[string]string // vessels put into a state by name
	empty      bool              // nothing is set up
	nextID     int
	undone     []string
	acked      []string
	set        []float64
	changed    func()
}

// fakeStart is a Saturday morning in the invented kitchen.
var fakeStart = time.Date(2026, 3, 14, 11, 42, 10, 0, time.UTC)

func newFakeHouse(now func() time.Time) *fakeHouse {
	h := &fakeHouse{now: now, devices: map[string]PushDevice{}, fridge: map[string]time.Time{}, feeds: map[string][]Feed{}, photos: map[string][]byte{}, lost: map[string]bool{}, stands: map[string]string{}, changed: func() {}}
	start := now()
	day := start.Truncate(24 * time.Hour)
	for d := 365; d >= 0; d-- {
		for _, hour := range []int{7, 20} {
			at := day.AddDate(0, 0, -d).Add(time.Duration(hour)*time.Hour + time.Duration(wobble(d*2+hour)*40)*time.Minute)
			if at.Before(start.Add(-time.Hour)) {
				h.add("bramble", Feed{At: at, KeptG: 20, Flours: []Flour{{"wheat", 50}, {"rye", 10}}, WaterG: 60, DiscardG: 90, CleanJar: d%3 == 0 && hour == 7, Found: d%5 == 1 && hour == 20})
			}
		}
		if at := day.AddDate(0, 0, -d).Add(2 * time.Hour); at.Before(start) {
			h.add("pilot", Feed{At: at, KeptG: 30, Flours: []Flour{{"wholemeal rye", 60}}, WaterG: 72, Note: note(d)})
		}
	}
	h.add("dough", Feed{At: start.Add(-3*time.Hour - 5*time.Minute), KeptG: 100, Flours: []Flour{{"wheat", 500}}, WaterG: 350})
	h.bakes = []Bake{{ID: "b1", At: start.AddDate(0, 0, -7), Stars: 4, Note: "Open crumb, a little sour. Shaped late."}}
	drawn := []Energy{
		{"day", start.Add(-24 * time.Hour), start, 0.149}, {"night", day.Add(-4 * time.Hour), day.Add(8 * time.Hour), 0.082},
	}
	h.mats = []Mat{
		{ID: "shelf", Name: "Shelf mat", Allowed: true, Accepted: true, Cautions: fakeCautions, On: true, Since: start.Add(-11 * time.Minute),
			Reason: fakeReason.In(text.Reader{}), ReasonSay: fakeReason, SetpointC: 26, SteeringC: Real(math.NaN()), LowC: 18, HighC: 30, HysteresisC: 0.5, CutoffC: 34, MatCutoffC: 45, OnShareDay: 0.31,
			Energy: drawn, Switches: 12_345, SwitchLife: 100_000,
			Steps: []Step{{"07:00", 26}, {"22:30", 23}}},
		{ID: "bench", Name: "Bench mat", Allowed: false, Cautions: fakeCautions, CautionsSay: fakeCautionsSay, Reason: "It is not switched on.", SetpointC: 24, SteeringC: Real(math.NaN()), LowC: 18, HighC: 30, HysteresisC: 0.5, CutoffC: 34, MatCutoffC: Real(math.NaN()), OnShareDay: 0},
	}
	return h
}

var fakeReason = text.Say("mat.reason.below_setpoint")

var (
	fakeCautionsSay = []text.Message{text.Say("caution.controller"), text.Say("caution.cutout"), text.Say("caution.smoke")}
	fakeCautions    = []string{fakeCautionsSay[0].In(text.Reader{}), fakeCautionsSay[1].In(text.Reader{}), fakeCautionsSay[2].In(text.Reader{})}
)

func note(d int) string {
	if d%9 == 2 {
		return "Smelt of apples. Stirred twice."
	}
	return ""
}

// wobble is a number from 0 to 1 that looks random and is always the same.
func wobble(n int) float64 {
	x := math.Sin(float64(n)*12.9898) * 43758.5453
	return x - math.Floor(x)
}

func (h *fakeHouse) add(vessel string, f Feed) Feed {
	h.nextID++
	f.ID = "f" + strconv.Itoa(h.nextID)
	h.feeds[vessel] = append(h.feeds[vessel], f)
	return f
}

func (h *fakeHouse) clock() time.Time { return h.now().Add(h.shift) }

// shape is the rise ratio some hours after a feed, with the hours to the top.
func shape(vessel string, n int, hours float64) (ratio, top float64) {
	w := wobble(n)
	grow, rate, lag, fall := 1.25+0.3*w, 0.235-0.04*w, 0.9+0.5*w, 0.07
	top = 6.4 + 1.6*w
	if vessel == "pilot" {
		grow, rate, lag, top = 0.95+0.2*w, 0.21, 1.2, 6.8+w
	}
	if vessel == "dough" {
		grow, rate, lag, top = 1.1, 0.17, 1.1, 9
	}
	rise := func(t float64) float64 {
		return grow * math.Exp(-math.Exp(rate*math.E/1.0*(lag-t)+1))
	}
	t := min(hours, top)
	ratio = 1 + rise(t)
	if hours > top {
		ratio -= (ratio - 1.12) * (1 - math.Exp(-fall*math.Pow(hours-top, 1.4)))
	}
	return ratio, top
}

func (h *fakeHouse) feedAt(vessel string, at time.Time) (Feed, int, bool) {
	list := h.feeds[vessel]
	n, _ := slices.BinarySearchFunc(list, at, func(f Feed, t time.Time) int { return f.At.Compare(t) })
	if n < len(list) && list[n].At.Equal(at) {
		n++
	}
	if n == 0 {
		return Feed{}, 0, false
	}
	return list[n-1], n - 1, true
}

func tempAt(vessel string, at time.Time) float64 {
	h := float64(at.Unix()) / 3600
	base := map[string]float64{"bramble": 25.4, "pilot": 21.3, "dough": 24.1}[vessel]
	return base + 0.7*math.Sin(h/24*2*math.Pi) + 0.25*math.Sin(h*2.6)
}

var fakeVessels = []struct {
	id, name    string
	kind        Kind
	inside, fed float64
	mat         string
}{
	{"bramble", "Bramble", Jar, 150, 52, "shelf"},
	{"pilot", "Pilot", Jar, 120, 38, "shelf"},
	{"dough", "Saturday loaf", Bowl, 110, 48, "bench"},
}

func (h *fakeHouse) Now() Snapshot {
	h.mu.Lock()
	defer h.mu.Unlock()
	now := h.clock()
	k := Snapshot{At: now, Zone: "Europe/London", Demo: true, Mats: slices.Clone(h.mats)}
	at := now.Add(-h.stale - 4*time.Second)
	for _, fv := range fakeVessels {
		v := Vessel{ID: fv.id, Name: fv.name, Kind: fv.kind, Mat: fv.mat, InsideMM: Real(fv.inside), TargetRatio: Real(math.NaN()), FedHeightMM: Real(math.NaN()), StaleAfterS: 120, Stage: Unfed}
		v.Temp = &Measure{Real(tempAt(fv.id, at)), at}
		if f, n, ok := h.feedAt(fv.id, now); ok {
			hours := at.Sub(f.At).Hours()
			ratio, top := shape(fv.id, n, hours)
			topAt := f.At.Add(time.Duration(top * float64(time.Hour)))
			topRatio, _ := shape(fv.id, n, top)
			v.FedHeightMM = Real(fv.fed)
			v.Height = &Measure{Real(fv.fed * ratio), at}
			v.Ratio = &Measure{Real(ratio), at}
			v.Feed = &FeedMark{ID: f.ID, At: f.At, Found: f.Found, UndoUntil: f.UndoUntil}
			switch {
			case fv.kind == Bowl:
				v.TargetRatio, v.Stage = 1.75, Rising
				if ratio >= 1.75 {
					v.Stage = OnTarget
				}
				topAt = now.Add(95 * time.Minute)
				topRatio = 1.75
			case hours < 1:
				v.Stage = Settling
			case hours < top:
				v.Stage = Rising
			case hours < top+1.2:
				v.Stage = OnTop
			default:
				v.Stage = Falling
			}
			if (v.Stage == Rising) && hours > 1.5 {
				half := time.Duration(float64(topAt.Sub(now)) * 0.24)
				v.Forecast = &Forecast{MadeAt: now.Add(-2 * time.Minute), TopAt: topAt, LowAt: topAt.Add(-half), HighAt: topAt.Add(half + 5*time.Minute), Ratio: Real(topRatio), Source: "curve", Fan: fan(fv.id, n, f.At, now, topAt)}
			}
			if v.Stage == OnTop || v.Stage == Falling {
				v.Top = &Top{CalledAt: topAt.Add(8 * time.Minute), TopAt: topAt, Ratio: Real(topRatio)}
			}
			if v.Stage == Settling {
				v.Note = "Too early to tell when the top comes."
			}
		}
		if fv.id == "bramble" {
			v.TargetTime = h.targetTime
		}
		if since, in := h.fridge[fv.id]; in {
			v.Stage, v.FridgeSince, v.Forecast, v.Note = Asleep, since, nil, ""
		}
		if h.lost[fv.id] {
			v.Stage, v.Note, v.Height, v.Ratio, v.Forecast = Unsure, "The distance sensor gives no reading: check its plug.", nil, nil, nil
		}
		if fv.id == "bramble" {
			v.Refused, v.RefusedHour = &Refused{At: now.Add(-17 * time.Minute), What: "distance", Value: 24, Unit: "mm", Why: "It jumped 63 mm in ten seconds: a hand or a glint on wet dough."}, 2
			v.Humidity = &Measure{61, at}
		}
		h.stand(&v, now)
		if u, ok := h.used[fv.id]; ok {
			if v.Used = &u; v.Kind == Bowl {
				v.Stage, v.Forecast, v.Top = Unfed, nil, nil
			}
		}
		k.Vessels = append(k.Vessels, v)
	}
	for i, v := range k.Vessels {
		if name := h.names[v.ID]; name != "" {
			k.Vessels[i].Name = name
		}
	}
	k.Vessels = slices.DeleteFunc(k.Vessels, func(v Vessel) bool { return h.gone[v.ID] })
	if h.empty {
		k.Vessels, k.Mats = nil, nil
	}
	k.Asks = slices.Clone(h.asks)
	for i := range k.Mats {
		vessel := []string{"bramble", "dough"}[i]
		k.Mats[i].Temp = &Measure{Real(tempAt(vessel, at)), at}
		k.Mats[i].RoomTemp = &Measure{19.6, at}
		if i == 0 {
			k.Mats[i].MatTemp = &Measure{33.2, at}
		}
		k.Mats[i].Faults = slices.Clone(h.mats[i].Faults)
	}
	return k
}

// stand puts a vessel into the state that a test asked for.
func (h *fakeHouse) stand(v *Vessel, now time.Time) {
	peak := now.Add(-25 * time.Minute)
	ahead := func(d time.Duration) *Forecast {
		return &Forecast{MadeAt: now, TopAt: now.Add(d), LowAt: now.Add(d - d/4), HighAt: now.Add(d + d/4), Ratio: 2.1, Source: "curve"}
	}
	switch h.stands[v.ID] {
	case "unfed":
		v.Stage, v.Feed, v.Ratio, v.Forecast, v.Top, v.FedHeightMM = Unfed, nil, nil, nil, nil, Real(math.NaN())
	case "fed":
		v.Stage, v.Forecast, v.Top, v.Ratio = Settling, nil, nil, &Measure{1, v.Height.At}
	case "early":
		v.Stage, v.Forecast, v.Top = Rising, nil, nil
	case "rising":
		v.Stage, v.Forecast, v.Top = Rising, ahead(3*time.Hour), nil
	case "nearly":
		v.Stage, v.Forecast, v.Top = Rising, ahead(20*time.Minute), nil
	case "ready":
		v.Stage, v.Forecast, v.Top, v.BestUntil = OnTop, nil, &Top{CalledAt: peak, TopAt: peak, Ratio: 2.1}, peak.Add(100*time.Minute)
		if v.Kind == Bowl {
			v.Stage = OnTarget
		}
	case "over":
		v.Stage, v.Forecast, v.Top = Over, nil, &Top{CalledAt: peak, TopAt: peak, Ratio: 1.75}
	case "past":
		v.Stage, v.Forecast, v.Top = Falling, nil, &Top{CalledAt: peak, TopAt: peak, Ratio: 2.1}
		if v.Kind == Bowl {
			v.Stage = Past
		}
	case "no-thermometer":
		v.NoTemp, v.Temp = true, nil
		v.NoteSay = text.Say("now.note.thermometer_mat")
	}
}

func fan(vessel string, n int, fed, now, top time.Time) []FanRow {
	var rows []FanRow
	span := top.Sub(now) * 3 / 2
	for i := 0; i <= 12; i++ {
		at := now.Add(span * time.Duration(i) / 12)
		mid, _ := shape(vessel, n, at.Sub(fed).Hours())
		w := 0.22 * math.Sqrt(float64(i)/12)
		rows = append(rows, FanRow{at, Real(mid - w), Real(mid), Real(mid + 0.8*w)})
	}
	return rows
}

func (h *fakeHouse) Setup(string) Setup {
	return Setup{Version: "test", Started: h.now().Add(-52 * time.Hour), Checks: []Check{
		{"sensors", "Bramble, distance", "ok", "Reads every ten seconds; the noise is 0.8 mm.", ""},
		{"sensors", "Pilot, distance", "warn", "It misses one reading in twelve.", "Wipe the little window of the sensor."},
		{"sensors", "Shelf probe", "ok", "Reads every ten seconds.", ""},
		{"mat", "Shelf mat", "ok", "The output answers.", ""},
		{"storage", "Card", "ok", "Room for about 9 years.", ""},
		{"messages", "Phone", "bad", "The last message was refused: 401.", "Renew the key in the configuration, then run leavend notify test."},
	}}
}

func (h *fakeHouse) known(vessel string) error {
	for _, v := range fakeVessels {
		if v.id == vessel {
			return nil
		}
	}
	return fmt.Errorf("vessel %q: %w", vessel, failure.ErrUnknown)
}

func (h *fakeHouse) Window(_ context.Context, vessel string, span Span) (Window, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if err := h.known(vessel); err != nil {
		return Window{}, err
	}
	now := h.clock()
	step := max(10*time.Second, span.To.Sub(span.From)/time.Duration(span.Max-1))
	w := Window{From: span.From, To: span.To, StepS: Real(step.Seconds())}
	fedHeight := 0.0
	for _, v := range fakeVessels {
		if v.id == vessel {
			fedHeight = v.fed
		}
	}
	for at := span.From; at.Before(span.To) && at.Before(now); at = at.Add(step) {
		w.At = append(w.At, at)
		t := tempAt(vessel, at)
		ratio, low, high := math.NaN(), math.NaN(), math.NaN()
		if f, n, ok := h.feedAt(vessel, at); ok {
			ratio, _ = shape(vessel, n, at.Sub(f.At).Hours())
			ratio += 0.004 * math.Sin(float64(at.Unix()))
			low, high = ratio-0.01, ratio+0.01
			if step > 2*time.Hour {
				low, high = 1.02, 2.3
			}
		}
		on := 0.0
		if math.Sin(float64(at.Unix())/3600*2.6) > 0.3 {
			on = 1
		}
		w.Ratio, w.RatioLow, w.RatioHigh = append(w.Ratio, ratio), append(w.RatioLow, low), append(w.RatioHigh, high)
		w.HeightMM = append(w.HeightMM, ratio*fedHeight)
		w.TempC, w.TempLowC, w.TempHighC = append(w.TempC, t), append(w.TempLowC, t-0.1), append(w.TempHighC, t+0.1)
		w.MatOn = append(w.MatOn, on)
	}
	if vessel == "bramble" {
		for _, s := range h.starters {
			w.Marks = append(w.Marks, Mark{At: s.At, Kind: "starter"})
		}
	}
	for n, f := range h.feeds[vessel] {
		if f.At.Before(span.From) || f.At.After(span.To) {
			continue
		}
		_, top := shape(vessel, n, 0)
		w.Marks = append(w.Marks, Mark{At: f.At, Kind: "fed"})
		topAt := f.At.Add(time.Duration(top * float64(time.Hour)))
		last := n == len(h.feeds[vessel])-1
		if topAt.Before(now) && topAt.Before(span.To) && (last || topAt.Before(h.feeds[vessel][n+1].At)) {
			w.Marks = append(w.Marks, Mark{At: topAt, Kind: "top"})
		}
	}
	return w, nil
}

func (h *fakeHouse) FeedCurve(_ context.Context, vessel, feed string) (FeedCurve, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	for n, f := range h.feeds[vessel] {
		if f.ID != feed {
			continue
		}
		end := h.clock()
		if n+1 < len(h.feeds[vessel]) {
			end = h.feeds[vessel][n+1].At
		}
		none := Real(math.NaN())
		c := FeedCurve{Feed: feed, At: f.At, ReferenceC: 25, PeakHours: none, PeakWarmHours: none, PeakRatio: none}
		warm := 0.0
		for at := f.At; at.Before(end); at = at.Add(3 * time.Minute) {
			hours := at.Sub(f.At).Hours()
			r, _ := shape(vessel, n, hours)
			t := tempAt(vessel, at)
			warm += 0.05 * math.Pow(2.2, (t-25)/10)
			c.Hours, c.WarmHours, c.Ratio, c.TempC = append(c.Hours, hours), append(c.WarmHours, warm), append(c.Ratio, r), append(c.TempC, t)
		}
		return c, nil
	}
	return FeedCurve{}, failure.ErrUnknown
}

func (h *fakeHouse) Record(_ context.Context, vessel string) (Record, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if err := h.known(vessel); err != nil {
		return Record{}, err
	}
	var rec Record
	list := h.feeds[vessel]
	for n := len(list) - 2; n >= 0 && len(rec.Rows) < 14; n-- {
		_, top := shape(vessel, n, 0)
		topAt := list[n].At.Add(time.Duration(top * float64(time.Hour)))
		off := time.Duration((wobble(n+7)-0.5)*56) * time.Minute
		said := topAt.Add(off)
		rec.Rows = append(rec.Rows, RecordRow{FeedAt: list[n].At, MadeAt: topAt.Add(-2 * time.Hour), TopAt: topAt, SaidAt: said, LowAt: said.Add(-21 * time.Minute), HighAt: said.Add(24 * time.Minute), AheadMin: 120})
	}
	return rec, nil
}

func (h *fakeHouse) Refused(_ context.Context, vessel string) ([]Refused, error) {
	if err := h.known(vessel); err != nil {
		return nil, err
	}
	if vessel != "bramble" {
		return nil, nil
	}
	now := h.clock()
	return []Refused{
		{At: now.Add(-17 * time.Minute), What: "distance", Value: 24, Unit: "mm", Why: "It jumped 63 mm in ten seconds: a hand or a glint on wet dough."},
		{At: now.Add(-31 * time.Minute), What: "temperature", Value: 85, Unit: "°C", Why: "85.000 °C is what this probe says after a power cut, not a measurement."},
		{At: now.Add(-26 * time.Hour), What: "distance", Value: Real(math.NaN()), Unit: "mm", Why: "The sensor did not answer in time."},
	}, nil
}

func (h *fakeHouse) Book(_ context.Context, vessel string, before time.Time, limit int) (Book, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if err := h.known(vessel); err != nil {
		return Book{}, err
	}
	b := Book{Signs: []Sign{{"mould, of any colour", "it has spoilt", "throw all of it away", true, "a guide"}, {"liquid on top", "it is hungry", "stir it in, then feed", false, "common practice"}}, FeedsSinceWash: 4, DiscardG: 310, DiscardSince: h.clock().Add(-9 * 24 * time.Hour)}
	list := h.feeds[vessel]
	for n := len(list) - 1; n >= 0; n-- {
		f := list[n]
		if !f.At.Before(before) {
			continue
		}
		if len(b.Feeds) == limit {
			b.More = true
			break
		}
		r, top := shape(vessel, n, 7)
		f.Outcome = &Outcome{Ratio: ratioText(f), HydrationPct: 100, RiseRatio: Real(r), HoursToTop: Real(top), HoursOnTop: 1.2, MeanTempC: Real(tempAt(vessel, f.At))}
		if n == len(list)-1 {
			f.Outcome.RiseRatio, f.Outcome.HoursToTop, f.Outcome.HoursOnTop = Real(math.NaN()), Real(math.NaN()), Real(math.NaN())
		}
		b.Feeds = append(b.Feeds, f)
	}
	if vessel == "bramble" {
		b.Bakes, b.DiscardMoves, b.Starters = slices.Clone(h.bakes), slices.Clone(h.moves), slices.Clone(h.starters)
		b.Reminders = []Reminder{{Code: "clean-jar", Text: "Four feeds since the last clean jar: give it a fresh one."}}
	}
	return b, nil
}

func ratioText(f Feed) string {
	flour := 0.0
	for _, x := range f.Flours {
		flour += float64(x.Grams)
	}
	if f.KeptG == 0 || flour == 0 {
		return ""
	}
	return fmt.Sprintf("1 : %.3g : %.3g", flour/float64(f.KeptG), float64(f.WaterG)/float64(f.KeptG))
}

func (h *fakeHouse) AddFeed(_ context.Context, vessel string, f Feed) (Feed, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if err := h.known(vessel); err != nil {
		return Feed{}, err
	}
	if f.At.IsZero() {
		f.At = h.clock()
	}
	f.UndoUntil = f.At.Add(10 * time.Minute)
	made := h.add(vessel, f)
	slices.SortFunc(h.feeds[vessel], func(a, b Feed) int { return a.At.Compare(b.At) })
	return made, nil
}

func (h *fakeHouse) CorrectFeed(_ context.Context, vessel, feed string, f Feed) (Feed, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	for n, old := range h.feeds[vessel] {
		if old.ID == feed {
			f.ID, f.Corrected = feed, true
			if f.At.IsZero() {
				f.At = old.At
			}
			h.feeds[vessel][n] = f
			return f, nil
		}
	}
	return Feed{}, failure.ErrUnknown
}

func (h *fakeHouse) UndoFeed(_ context.Context, vessel, feed string) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	n := slices.IndexFunc(h.feeds[vessel], func(f Feed) bool { return f.ID == feed })
	if n < 0 {
		return failure.ErrUnknown
	}
	h.feeds[vessel] = slices.Delete(h.feeds[vessel], n, n+1)
	h.undone = append(h.undone, feed)
	return nil
}

func (h *fakeHouse) Suggest(_ context.Context, vessel string, needG float64) (Suggestion, error) {
	if err := h.known(vessel); err != nil {
		return Suggestion{}, err
	}
	if needG == 0 {
		return Suggestion{KeepG: 20, Flours: []Flour{{"wheat", 50}, {"rye", 10}}, WaterG: 60, YieldG: 140, Why: "Like your last feeds."}, nil
	}
	keep := math.Ceil((needG + 20) / 7)
	return Suggestion{KeepG: Real(keep), Flours: []Flour{{"wheat", Real(keep * 3)}}, WaterG: Real(keep * 3), YieldG: Real(keep * 7), Why: "Enough for the dough and 20 g to carry on with."}, nil
}

func (h *fakeHouse) AddBake(_ context.Context, vessel string, b Bake) (Bake, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if err := h.known(vessel); err != nil {
		return Bake{}, err
	}
	h.nextID++
	b.ID = "b" + strconv.Itoa(h.nextID)
	if b.At.IsZero() {
		b.At = h.clock()
	}
	if len(b.Photo) > 0 {
		h.photos[b.ID], b.Photo, b.Has = b.Photo, nil, true
	}
	h.bakes = append([]Bake{b}, h.bakes...)
	return b, nil
}

func (h *fakeHouse) CorrectBake(_ context.Context, vessel, bake string, b Bake) (Bake, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	for i, old := range h.bakes {
		if old.ID != bake {
			continue
		}
		b.ID, b.Has, b.Corrected = bake, old.Has, true
		if b.At.IsZero() {
			b.At = old.At
		}
		if len(b.Photo) > 0 {
			h.photos[bake], b.Photo, b.Has = b.Photo, nil, true
		}
		h.bakes[i] = b
		return b, nil
	}
	return b, failure.ErrUnknown
}

func (h *fakeHouse) UndoBake(_ context.Context, _, bake string) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	before := len(h.bakes)
	h.bakes = slices.DeleteFunc(h.bakes, func(b Bake) bool { return b.ID == bake })
	if len(h.bakes) == before {
		return failure.ErrUnknown
	}
	return nil
}

func (h *fakeHouse) MoveDiscard(_ context.Context, vessel string, m DiscardMove) (DiscardMove, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if err := h.known(vessel); err != nil {
		return m, err
	}
	h.nextID++
	m.ID = "m" + strconv.Itoa(h.nextID)
	if m.At.IsZero() {
		m.At = h.clock()
	}
	h.moves = append([]DiscardMove{m}, h.moves...)
	return m, nil
}

func (h *fakeHouse) NewStarter(_ context.Context, vessel string, s Starter) (Starter, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	feeds := h.feeds[vessel]
	if feeds == nil {
		return s, failure.ErrUnknown
	}
	s.At = h.clock()
	if i := slices.IndexFunc(feeds, func(f Feed) bool { return f.ID == s.Feed }); i >= 0 {
		s.At = feeds[i].At
	} else if s.Feed != "" {
		return s, failure.ErrUnknown
	}
	h.nextID++
	s.ID, s.Feed = "s"+strconv.Itoa(h.nextID), ""
	h.starters = append([]Starter{s}, h.starters...)
	return s, nil
}

func (h *fakeHouse) UndoStarter(_ context.Context, _, starter string) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.starters = slices.DeleteFunc(h.starters, func(s Starter) bool { return s.ID == starter })
	return nil
}

func (h *fakeHouse) UndoDiscard(_ context.Context, _, move string) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	before := len(h.moves)
	h.moves = slices.DeleteFunc(h.moves, func(m DiscardMove) bool { return m.ID == move })
	if len(h.moves) == before {
		return failure.ErrUnknown
	}
	return nil
}

func (h *fakeHouse) Fold(_ context.Context, vessel string) error {
	if vessel == "bramble" {
		return failure.ErrUnknown
	}
	return nil
}

func (h *fakeHouse) Chill(_ context.Context, vessel string, in bool) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	if err := h.known(vessel); err != nil {
		return err
	}
	if delete(h.fridge, vessel); in {
		h.fridge[vessel] = h.clock()
	}
	return nil
}

func (h *fakeHouse) Use(_ context.Context, vessel, how string) (Used, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if err := h.known(vessel); err != nil {
		return Used{}, err
	}
	used := Used{How: how, At: h.clock(), UndoUntil: h.clock().Add(10 * time.Minute)}
	if h.used == nil {
		h.used = map[string]Used{}
	}
	h.used[vessel] = used
	return used, nil
}

func (h *fakeHouse) Unuse(_ context.Context, vessel string) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	delete(h.used, vessel)
	return h.known(vessel)
}

func (h *fakeHouse) SetTargetTime(_ context.Context, vessel string, at time.Time) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	if err := h.known(vessel); err != nil {
		return err
	}
	if vessel != "bramble" {
		return &failure.Refusal{Code: "no-mat", Say: text.Message{}}
	}
	line := says("steer.on_course", text.Time("at", at), text.Temp("holds", 24.5))
	h.targetTime = &TargetTime{At: at, Reason: "on-course", Text: line.Text, Say: line.Say, SetpointC: 24.5, ExpectAt: at, UsefulUntil: at.Add(90 * time.Minute), DegreeHours: 10}
	return nil
}

func (h *fakeHouse) ClearTargetTime(_ context.Context, vessel string) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.targetTime = nil
	return h.known(vessel)
}

func (h *fakeHouse) Seen(_ context.Context, ask string) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	before := len(h.asks)
	h.asks = slices.DeleteFunc(h.asks, func(a Ask) bool { return a.ID == ask })
	if len(h.asks) == before {
		return failure.ErrUnknown
	}
	return nil
}

// fakePushKey is a valid point, as a browser wants it; its private half is not kept.
const fakePushKey = "BP4z9KsN6nGRTbVYI_c7VJSPQTBtkgcy27mlmlMoZIIgDll6e3vCYLocInmYWAmS6TlzAC8wEqKK6PBru3jl7A8"

func (h *fakeHouse) PushKey() string { return fakePushKey }

func (h *fakeHouse) AddDevice(_ context.Context, d PushDevice) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	if d.Endpoint == "" || d.Auth == "" {
		return &failure.Refusal{Code: "push", Say: text.Literal("This is no subscription.")}
	}
	h.devices[d.Endpoint] = d
	return nil
}

func (h *fakeHouse) RemoveDevice(_ context.Context, endpoint string) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	delete(h.devices, endpoint)
	return nil
}

func (h *fakeHouse) TryPush(context.Context) error { return nil }

func (h *fakeHouse) BakePhoto(_ context.Context, _, bake string) ([]byte, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if b, ok := h.photos[bake]; ok {
		return b, nil
	}
	return nil, failure.ErrUnknown
}

func (h *fakeHouse) find(mat string) (*Mat, error) {
	for i := range h.mats {
		if h.mats[i].ID == mat {
			return &h.mats[i], nil
		}
	}
	return nil, failure.ErrUnknown
}

func (h *fakeHouse) SetSetpoint(_ context.Context, mat string, c float64) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	m, err := h.find(mat)
	if err != nil {
		return err
	}
	m.SetpointC = Real(c)
	h.set = append(h.set, c)
	return nil
}

func (h *fakeHouse) SetSchedule(_ context.Context, mat string, steps []Step) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	m, err := h.find(mat)
	if err == nil {
		if m.Steps, m.StepsOwn = steps, steps != nil; steps == nil {
			m.Steps = []Step{{"07:00", 26}, {"22:30", 23}}
		}
		for _, s := range steps {
			h.set = append(h.set, float64(s.SetpointC))
		}
	}
	return err
}

func (h *fakeHouse) Allow(_ context.Context, mat string, on, accepted bool) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	m, err := h.find(mat)
	if err == nil {
		m.Allowed, m.Accepted = on, m.Accepted || accepted
		m.ReasonSay, m.Reason, m.On = text.Message{}, "It may heat; it waits for three good readings.", false
	}
	return err
}

func (h *fakeHouse) Acknowledge(_ context.Context, fault string) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	for i := range h.mats {
		for n, f := range h.mats[i].Faults {
			if f.ID == fault {
				if f.Holds {
					return &failure.Refusal{Code: "holds", Say: f.WhySay}
				}
				h.mats[i].Faults = slices.Delete(h.mats[i].Faults, n, n+1)
				h.acked = append(h.acked, fault)
				return nil
			}
		}
	}
	return failure.ErrUnknown
}

// trip latches a cutoff on the first mat; holds says whether it is still hot.
func (h *fakeHouse) trip(holds bool) {
	h.mu.Lock()
	defer h.mu.Unlock()
	f := Fault{ID: "cutoff-1", Kind: "cutoff", Text: "Bramble reached 34.2 °C, so the mat was switched off for good.", Do: "Feel the mat and the jar. Look whether the mat lies flat and nothing covers it.", Since: h.clock().Add(-6 * time.Minute), Holds: holds}
	if holds {
		f.WhySay = text.Say("mat.hot.vessel", text.Temp("temp", 32.9), text.Temp("limit", 32))
		f.Why = f.WhySay.In(text.Reader{})
	}
	h.mats[0].Faults, h.mats[0].On, h.mats[0].ReasonSay, h.mats[0].Reason = []Fault{f}, false, text.Message{}, "The cutoff tripped. The mat stays off until you acknowledge it."
}
