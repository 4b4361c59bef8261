package daemon

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/notify"
	"leavend/cmd/leavend/internal/store"
	"leavend/sensor"
	"leavend/sensor/sim"
)

// soakSpeed is how much faster than the world the soak runs: a day takes a
// minute and a half.
const soakSpeed = 1000

// longSoak is how many days show growth; such a soak has the process to itself.
const longSoak = 9

// soakDays is how long the invented kitchen is watched.
func soakDays(t *testing.T) float64 {
	text := os.Getenv("LEAVEND_SOAK_DAYS")
	if text == "" {
		return 0.35
	}
	days, err := strconv.ParseFloat(text, 64)
	if err != nil || !(days > 0 && days <= 366) {
		t.Fatalf("LEAVEND_SOAK_DAYS: %q is not a number of days", text)
	}
	return days
}

// TestSoak runs the whole daemon for days of an invented kitchen with four
// jars and a mat, with a real broker and a real disk, while sensors, network,
// broker, disk, clock and the daemon itself fail at random. It prints a table
// and fails when a top was missed, a feed lost, a mat's fault left alone, or
// memory, files or goroutines grew.
func TestSoak(t *testing.T) {
	if testing.Short() {
		t.Skip("a soak is not short")
	}
	days := soakDays(t)
	if days < longSoak {
		t.Parallel() // it waits as much as it works
	}
	s := newSoak(t, days)
	s.open()
	for s.elapsed() < s.length {
		time.Sleep(15 * time.Millisecond)
		s.weather.pass(s, s.elapsed())
		s.look()
	}
	s.deliver()
	s.close()
	s.report()
}

// soak is a daemon that runs for days, and those who watch it.
type soak struct {
	*testing.T
	length  time.Duration
	began   time.Time // daemon time
	clock   *event.Clock
	skew    atomic.Int64                   // what the wall clock shows too much
	asked   atomic.Pointer[[]*askedSource] // by the daemon; nil while it is closed
	kitchen *sim.Kitchen
	conf    *config.Config
	disk    *smallDisk
	line    *cutter
	phone   *deafPhone
	witness *witness
	told    []string // every feed and top, heard on the daemon's own hub
	tops    int      // of them
	weather *weather
	jars    []*watchedJar
	mat     watchedMat
	diary   []dayRow

	daemon *Daemon // nil while it is off
	heard  *monitor.Listener
	stop   context.CancelFunc
	ended  chan error

	restarts, presses int
	heardFed          int         // feeds said by hand, heard on the hub
	late              []sim.Press // said while the daemon was off, or refused by a full disk
}

func newSoak(t *testing.T, days float64) *soak {
	s := &soak{T: t, length: time.Duration(days * 24 * float64(time.Hour)), phone: &deafPhone{}}
	s.clock = event.NewClock(time.Now(), soakSpeed)
	s.clock.Wall = func(at time.Time) time.Time { return stepped(at, time.Duration(s.skew.Load())) }
	s.began = s.clock.Steady()
	ctx, stop := context.WithCancel(context.Background())
	t.Cleanup(stop)

	opts := soakKitchen(s.length)
	var err error
	if s.kitchen, err = sim.New(s.clock.Steady, opts); err != nil {
		t.Fatal(err)
	}
	for _, v := range opts.Vessels {
		s.jars = append(s.jars, newWatchedJar(v, s.length))
	}
	broker, hush := startStoppableBroker(t)
	s.witness, s.told = newWitness(t, broker), make([]string, 0, 1000)
	s.line = newCutter(t, broker)
	s.disk = newSmallDisk(t)
	s.weather = newWeather(s.length, hush)
	if s.conf, err = config.Parse([]byte(soakConfig(s.disk.dir, s.line.address, opts)), "soak.toml"); err != nil {
		t.Fatal(err)
	}
	s.conf.Web.Listen, s.conf.Metrics.Listen = "127.0.0.1:0", "127.0.0.1:0"
	go s.drive(ctx)
	return s
}

// lag is how far the soak's clock may run ahead of a sensor that the daemon has
// not asked: some rounds of its readings.
const lag = time.Minute

// drive moves the clock, but no faster than the daemon keeps up with. A slow
// machine makes a soak longer and nothing else.
func (s *soak) drive(ctx context.Context) {
	tick := time.NewTicker(time.Second / soakSpeed)
	defer tick.Stop()
	for moved := time.Now(); ; {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		behind := func(a *askedSource) bool { return s.elapsed()-time.Duration(a.at.Load()) > lag }
		if asked := s.asked.Load(); asked != nil && slices.ContainsFunc(*asked, behind) && time.Since(moved) < leavendtest.Patience {
			continue
		}
		s.clock.Advance(time.Second)
		moved = time.Now()
	}
}

// askedSource is a sensor that notes when it was asked last.
type askedSource struct {
	sensor.Source
	s  *soak
	at atomic.Int64 // elapsed daemon time, ns
}

func (a *askedSource) Read(ctx context.Context) (sensor.Reading, error) {
	a.at.Store(int64(a.s.elapsed()))
	return a.Source.Read(ctx)
}

// sensors are what the daemon reads in the invented kitchen; they are noted in all.
func (s *soak) sensors(all *[]*askedSource) func(config.Sensor) (sensor.Source, sensor.Source, error) {
	watch := func(from sensor.Source) sensor.Source {
		a := &askedSource{Source: from, s: s}
		a.at.Store(int64(s.elapsed()))
		*all = append(*all, a)
		return a
	}
	return func(c config.Sensor) (distance, temperature sensor.Source, err error) {
		if distance, temperature, err = simulated(s.kitchen)(c); err != nil {
			return nil, nil, err
		}
		return watch(distance), watch(temperature), nil
	}
}

// elapsed is how much daemon time has passed.
func (s *soak) elapsed() time.Duration { return s.clock.Steady().Sub(s.began) }

// soakConfig watches every jar of the kitchen and tells a phone.
func soakConfig(dir, broker string, opts sim.Opts) string {
	var b strings.Builder
	fmt.Fprintf(&b, "data_dir = %q\n", dir)
	for _, v := range opts.Vessels {
		fmt.Fprintf(&b, "[[sensor]]\nname = %q\nchip = \"kitchen\"\n", "over "+v.Name)
		fmt.Fprintf(&b, "[[vessel]]\nname = %q\ndistance = %q\ntemperature = %q\nfloor_mm = 215\n", v.Name, "over "+v.Name, "over "+v.Name)
	}
	fmt.Fprintf(&b, "[mat]\noutput = \"kitchen\"\nvessel = %q\nsetpoint_c = 26\nlease = \"5m\"\n", sim.Bramble)
	fmt.Fprintf(&b, "[mqtt]\nurl = \"mqtt://%s\"\n", broker)
	b.WriteString(tellPhone)
	return b.String()
}

// open starts the daemon, as systemd does.
func (s *soak) open() {
	s.Helper()
	mat, err := s.kitchen.Mat(sim.Bramble)
	if err != nil {
		s.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	log := slog.New(slog.NewTextHandler(io.Discard, nil))
	told := &monitor.Hub{}
	s.heard = told.Listen("soak")
	var asked []*askedSource
	s.daemon, err = New(ctx, s.conf, log, Parts{
		Clock: s.clock, ClockMade: true, Agreed: true, Mat: mat, Note: filepath.Join(s.disk.dir, "mat.json"),
		Hub: told, Sender: s.phone.sender, Simulated: s.sensors(&asked),
	})
	if err != nil {
		s.Fatal(err)
	}
	daemon, ended := s.daemon, make(chan error, 1)
	s.stop, s.ended = stop, ended
	go func() { ended <- daemon.Run(ctx) }()
	s.asked.Store(&asked)
}

// close ends the daemon as a signal does. The mat must be off afterwards.
func (s *soak) close() {
	s.Helper()
	s.asked.Store(nil)
	s.stop()
	if err := <-s.ended; err != nil {
		s.Errorf("after %v the daemon ended with %v", s.elapsed().Round(time.Minute), err)
	}
	s.hear()
	s.daemon = nil
	// A weld lasts for minutes, so one that goes on now stands before or after.
	if welded, draws := s.mat.welded(s), drawing(s.T, s.kitchen); draws && !welded && !s.mat.welded(s) {
		s.Errorf("after %v the mat heats though the daemon is closed", s.elapsed().Round(time.Minute))
	}
}

// look sees what is so in the kitchen and what the daemon says about it.
func (s *soak) look() {
	at := s.elapsed()
	s.late = append(s.late, s.kitchen.Presses()...)
	if s.daemon != nil {
		s.press()
		s.hear()
		s.mat.look(s, at)
	}
	for _, j := range s.jars {
		j.look(s, at)
	}
	if day := int(at / (24 * time.Hour)); day > len(s.diary) {
		s.diary = append(s.diary, takeDay(day))
		s.Logf("%v", s.diary[len(s.diary)-1])
	}
}

// press hands on what the invented baker says. What the daemon could not keep
// is said again later, as a baker does who is shown an error.
func (s *soak) press() {
	var again []sim.Press
	for _, p := range s.late {
		v := s.daemon.Find(p.Vessel)
		at := p.At.Add(time.Duration(s.skew.Load()))
		if at.After(s.daemon.Clock.Now()) {
			at = time.Time{}
		}
		if _, err := s.daemon.Fed(context.Background(), v.Conf.Slug, store.Feed{At: at, Note: strconv.Itoa(s.presses)}); err != nil {
			again = append(again, p)
			continue
		}
		s.presses++
	}
	s.late = again
}

// hear takes what the daemon tells.
func (s *soak) hear() {
	for _, it := range s.heard.Flush() {
		if it.Event == nil {
			continue
		}
		if k := it.Event.Kind; k == event.Fed || k == event.Peak {
			s.told = append(s.told, fmt.Sprintf("%s %s %s", it.Event.Subject, k, it.Event.Text))
		}
		switch k := it.Event.Kind; {
		case k == event.Peak:
			s.tops++
		case k == event.Fed && it.Event.Detected.Source == store.Marked:
			s.heardFed++
		}
		for _, j := range s.jars {
			if j.slug == it.Event.Subject {
				j.hear(*it.Event, s.elapsed())
			}
		}
		if it.Event.Subject == event.SubjectMat {
			s.mat.hear(*it.Event)
		}
	}
}

// deliver gives the daemon time to send what still waits: all that was told
// must reach the broker and the phone.
func (s *soak) deliver() {
	s.Helper()
	for end := time.Now().Add(leavendtest.Patience); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		s.look()
		if len(s.witness.lacks(s.told)) == 0 && s.phone.got(notify.OnTop) >= s.tops {
			return
		}
	}
	for _, text := range s.witness.lacks(s.told) {
		s.Errorf("the broker never had: %s", text)
	}
	if n := s.phone.got(notify.OnTop); n < s.tops {
		s.Errorf("the phone had %d of %d tops", n, s.tops)
	}
}

// report prints what came of it and fails where it must.
func (s *soak) report() {
	s.Helper()
	fmt.Printf("soak of %v: %d restarts, %s\n", s.elapsed().Round(time.Minute), s.restarts, s.weather)
	feeds, tops, called, onTop, twice, silent, found := 0, 0, 0, 0, 0, 0, 0
	for _, j := range s.jars {
		r := j.result()
		fmt.Printf("  %-10s %v\n", j.name, r)
		feeds, tops, called, onTop, twice = feeds+r.feeds, tops+r.tops, called+r.called, onTop+r.onTop, twice+r.twice
		silent, found = silent+r.silent, found+r.found
	}
	fmt.Printf("  together: %d feeds, %d tops, %d called (%d on top), %d called twice, %d of %d silent feeds found\n", feeds, tops, called, onTop, twice, found, silent)
	fmt.Printf("  told: %d feeds and %d tops; %d never came to the broker, %d tops on the phone\n", len(s.told)-s.tops, s.tops,
		len(s.witness.lacks(s.told)), s.phone.got(notify.OnTop))
	fmt.Printf("  mat: %v\n", &s.mat)
	if called < tops {
		s.Errorf("%d of %d tops were never called", tops-called, tops)
	}
	if twice > 0 {
		s.Errorf("%d tops were called twice", twice)
	}
	s.countFeeds()
	s.mat.check(s)
	s.checkGrowth()
}

// countFeeds looks whether every feed that was acknowledged is in the store.
func (s *soak) countFeeds() {
	s.Helper()
	ctx := context.Background()
	st, report, err := store.Open(ctx, s.conf.Store.File, store.Opts{Clock: store.SteadyClock(s.clock.Now, "the soak is over")})
	if err != nil {
		s.Fatal(err)
	}
	defer st.Close()
	if !report.OK() {
		s.Errorf("the history is damaged: %v", report)
	}
	kept := map[string]bool{}
	for _, j := range s.jars {
		feeds, err := st.Journal.Feeds(ctx, store.Query{Vessel: j.slug})
		if err != nil {
			s.Fatal(err)
		}
		for _, f := range feeds {
			if f.Note != "" {
				kept[f.Note] = true
			}
		}
	}
	fmt.Printf("  feeds said by hand: %d, of them in the store: %d\n", s.presses, len(kept))
	if len(kept) != s.presses {
		s.Errorf("%d acknowledged feeds are lost", s.presses-len(kept))
	}
	if s.heardFed != s.presses {
		s.Errorf("of %d acknowledged feeds was told %d times", s.presses, s.heardFed)
	}
}

// dayRow is what the process holds at the end of a day.
type dayRow struct {
	day                     int
	heapKB, goroutines, fds int
}

func (r dayRow) String() string {
	return fmt.Sprintf("day %2d: heap %d kB, %d goroutines, %d files", r.day, r.heapKB, r.goroutines, r.fds)
}

func takeDay(day int) dayRow {
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	files, _ := os.ReadDir("/proc/self/fd") // where there is none, none grow
	return dayRow{day, int(m.HeapAlloc / 1024), runtime.NumGoroutine(), len(files)}
}

// checkGrowth compares the last days with the first.
func (s *soak) checkGrowth() {
	s.Helper()
	if len(s.diary) < longSoak {
		return // too short to tell growth from settling
	}
	least := func(rows []dayRow, of func(dayRow) int) int {
		low := of(rows[0])
		for _, r := range rows {
			low = min(low, of(r))
		}
		return low
	}
	first, last := s.diary[1:4], s.diary[len(s.diary)-3:]
	for _, c := range []struct {
		name  string
		of    func(dayRow) int
		spare int
	}{
		{"heap in kB", func(r dayRow) int { return r.heapKB }, 4096},
		{"goroutines", func(r dayRow) int { return r.goroutines }, 3},
		{"files", func(r dayRow) int { return r.fds }, 3},
	} {
		a, b := least(first, c.of), least(last, c.of)
		fmt.Printf("  %s: %d in the first days, %d in the last\n", c.name, a, b)
		if b > a+c.spare {
			s.Errorf("%s grew from %d to %d", c.name, a, b)
		}
	}
}
