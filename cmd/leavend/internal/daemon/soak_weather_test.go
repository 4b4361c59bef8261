package daemon

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	"golang.org/x/sys/unix"

	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/leavendtest/freeport"
	"leavend/cmd/leavend/internal/notify"
	"leavend/sensor/sim"
)

// soakSeed decides every chance of the soak.
const soakSeed = 20

// soakKitchen has four jars, each fed about daily at no fixed hour, and all
// that befalls jars and sensors. What makes a top by force (a knock, a stir)
// is left out: no detector can foresee it.
func soakKitchen(length time.Duration) sim.Opts {
	rng := rand.New(rand.NewPCG(soakSeed, 1))
	o := sim.Opts{Seed: soakSeed, Room: sim.RoomOpts{MeanC: 22, SwingC: 1, WanderC: 0.2, DoorC: 2, DoorsADay: 4}, Before: time.Hour}
	jars := []sim.VesselOpts{
		{Name: sim.Bramble, Vessel: sim.Vessel{BottomMM: 86, TopMM: 92, RimMM: 165},
			Starter: sim.StarterOpts{Firm: 4, DomeMM: 2, CraterMM: 4, Late: 0.35, Hold: 2.4, Wander: 0.03}, Plant: sim.PlantOpts{MatW: 18}},
		{Name: sim.Pilot, Vessel: sim.Vessel{BottomMM: 78, RimMM: 150}, Starter: sim.StarterOpts{Firm: 7, Brittle: 3, Hold: 1.9, Wander: 0.04}},
		{Name: "Bramble's twin", Vessel: sim.Vessel{BottomMM: 84, RimMM: 160}, Starter: sim.StarterOpts{Firm: 5, Hold: 2.2, DomeMM: 3}},
		{Name: "Pilot's twin", Vessel: sim.Vessel{BottomMM: 80, RimMM: 150}, Starter: sim.StarterOpts{Firm: 6, Hold: 2, CraterMM: 5}},
	}
	for i := range jars {
		jars[i].Feeds = soakFeeds(rng, length)
		jars[i].Events = soakEvents(rng, length, i == 0)
	}
	o.Vessels = jars
	return o
}

// soakFeeds feeds once a day or so; one in ten is never said.
func soakFeeds(rng *rand.Rand, length time.Duration) []sim.Feed {
	var feeds []sim.Feed
	for at := time.Hour + time.Duration(rng.Int64N(int64(2*time.Hour))); at < length; at += 20*time.Hour + time.Duration(rng.Int64N(int64(8*time.Hour))) {
		part := float64(1 + rng.IntN(3))
		feeds = append(feeds, sim.Feed{
			At: time.Hour + at, Ratio: sim.Ratio{Starter: 1, Flour: part, Water: part}, FillML: 190 + 30*rng.Float64(),
			Away: time.Duration(2+rng.IntN(5)) * time.Minute, OffMM: 3*rng.Float64() - 1.5,
			PaceBy: 1 + 0.04*rng.NormFloat64(), Silent: len(feeds) > 0 && rng.IntN(10) == 0,
		})
	}
	return feeds
}

// soakEvents draws what befalls one jar, its sensors and its mat.
func soakEvents(rng *rand.Rand, length time.Duration, matted bool) []sim.Event {
	minutes := func(least, most int) time.Duration {
		return time.Duration(least+rng.IntN(most-least+1)) * time.Minute
	}
	kinds := []func() sim.Event{
		func() sim.Event {
			return sim.Event{Kind: sim.Lifted, For: minutes(1, 4), Amount: 6*rng.Float64() - 3}
		},
		func() sim.Event { return sim.Event{Kind: sim.Hand, For: minutes(1, 3)} },
		func() sim.Event { return sim.Event{Kind: sim.Glinting, For: minutes(10, 40), Amount: 0.2} },
		func() sim.Event { return sim.Event{Kind: sim.Blind, For: minutes(5, 40)} },
		func() sim.Event { return sim.Event{Kind: sim.ProbeGone, For: minutes(5, 60)} },
		func() sim.Event { return sim.Event{Kind: sim.ProbeAt85, For: minutes(1, 15)} },
		func() sim.Event { return sim.Event{Kind: sim.ProbeStuck, For: minutes(10, 60)} },
		func() sim.Event {
			return sim.Event{Kind: sim.Condensing, For: minutes(20, 60), Amount: 1.5}
		},
		func() sim.Event { return sim.Event{Kind: sim.DoorOpen, Amount: 3} },
	}
	if matted {
		kinds = append(kinds,
			func() sim.Event { return sim.Event{Kind: sim.MatDead, For: minutes(60, 240)} },
			func() sim.Event { return sim.Event{Kind: sim.MatWelded, For: minutes(10, 40)} },
			func() sim.Event { return sim.Event{Kind: sim.ProbeOut, For: minutes(60, 300)} })
	}
	var events []sim.Event
	for at := 2 * time.Hour; at < length; at += minutes(120, 720) {
		e := kinds[rng.IntN(len(kinds))]()
		e.At = time.Hour + at
		events = append(events, e)
	}
	return events
}

// trouble is one thing that befalls the daemon itself.
type trouble struct {
	name       string
	at, until  time.Duration // daemon time since the start
	begin, end func(*soak)
	begun      bool
}

// weather is all the trouble to come.
type weather struct {
	troubles []*trouble
	counts   map[string]int
}

// newWeather draws the trouble of the whole soak. Two kinds may overlap, two
// of a kind do not. In a short soak everything comes oftener and passes sooner,
// so that it all comes.
func newWeather(length time.Duration, hush func(bool)) *weather {
	rng := rand.New(rand.NewPCG(soakSeed, 2))
	w := &weather{counts: map[string]int{}}
	add := func(name string, every, least, most time.Duration, begin, end func(*soak)) {
		every, most = min(every, length/3), max(least+time.Minute, min(most, length/12))
		for at := every / 4; at < length; {
			at += time.Duration(rng.Int64N(int64(every)))
			lasts := least + time.Duration(rng.Int64N(int64(most-least)))
			if at+lasts > length {
				return
			}
			w.troubles = append(w.troubles, &trouble{name: name, at: at, until: at + lasts, begin: begin, end: end})
			at += lasts + every/2
		}
	}
	add("restarts", 36*time.Hour, time.Minute, time.Hour, func(s *soak) { s.close() }, func(s *soak) { s.restarts++; s.open() })
	add("network cuts", 12*time.Hour, 5*time.Minute, 2*time.Hour, func(s *soak) { s.line.cut(true); s.phone.deaf.Store(true) }, func(s *soak) { s.line.cut(false); s.phone.deaf.Store(false) })
	add("broker hangs", 24*time.Hour, 5*time.Minute, time.Hour, func(*soak) { hush(true) }, func(*soak) { hush(false) })
	add("full disks", 48*time.Hour, 10*time.Minute, 2*time.Hour, func(s *soak) { s.disk.fill(true) }, func(s *soak) { s.disk.fill(false) })
	add("clock steps", 24*time.Hour, 10*time.Minute, 3*time.Hour, func(s *soak) {
		s.skew.Store(int64(rng.IntN(2*7200)-7200) * int64(time.Second))
	}, func(s *soak) { s.skew.Store(0) })
	slices.SortFunc(w.troubles, func(a, b *trouble) int { return int(a.at - b.at) })
	return w
}

// pass begins and ends what is due.
func (w *weather) pass(s *soak, now time.Duration) {
	for _, x := range w.troubles {
		if !x.begun && now >= x.at {
			x.begun = true
			w.counts[x.name]++
			x.begin(s)
		}
	}
	w.troubles = slices.DeleteFunc(w.troubles, func(x *trouble) bool {
		over := x.begun && now >= x.until
		if over {
			x.end(s)
		}
		return over
	})
}

func (w *weather) String() string {
	var parts []string
	for _, name := range []string{"network cuts", "broker hangs", "full disks", "clock steps"} {
		parts = append(parts, fmt.Sprintf("%d %s", w.counts[name], name))
	}
	return strings.Join(parts, ", ")
}

// startStoppableBroker starts a real mosquitto that can be made to hang.
func startStoppableBroker(t *testing.T) (address string, hush func(bool)) {
	t.Helper()
	address = freeport.Address(t)
	_, port, _ := net.SplitHostPort(address)
	conf := filepath.Join(t.TempDir(), "mosquitto.conf")
	if err := os.WriteFile(conf, []byte(fmt.Sprintf("listener %s 127.0.0.1\nallow_anonymous true\n", port)), 0o644); err != nil {
		t.Fatal(err)
	}
	cmd := leavendtest.Start(t, exec.Command(leavendtest.RealPeer(t, "mosquitto", "mosquitto"), "-c", conf))
	leavendtest.Eventually(t, "the broker listens", func() bool {
		c, err := net.Dial("tcp", address)
		if err == nil {
			c.Close()
		}
		return err == nil
	})
	return address, func(on bool) {
		sign := syscall.SIGCONT
		if on {
			sign = syscall.SIGSTOP
		}
		if err := cmd.Process.Signal(sign); err != nil {
			t.Error(err)
		}
	}
}

// witness hears every event that reaches the broker.
type witness struct {
	mu     sync.Mutex     // guards events
	events map[string]int // how often each came
}

func newWitness(t *testing.T, broker string) *witness {
	t.Helper()
	w := &witness{events: map[string]int{}}
	lib := mqtt.NewClient(mqtt.NewClientOptions().AddBroker("mqtt://" + broker).SetKeepAlive(time.Hour))
	for _, token := range []func() mqtt.Token{lib.Connect, func() mqtt.Token { return lib.Subscribe("leavend/+/event", 1, w.hear) }} {
		if token := token(); !token.WaitTimeout(leavendtest.Patience) || token.Error() != nil {
			t.Fatal(token.Error())
		}
	}
	t.Cleanup(func() { lib.Disconnect(0) })
	return w
}

func (w *witness) hear(_ mqtt.Client, m mqtt.Message) {
	var e struct {
		Kind string `json:"event_type"`
		Text string `json:"text"`
	}
	if json.Unmarshal(m.Payload(), &e) != nil {
		return
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	w.events[strings.Split(m.Topic(), "/")[1]+" "+e.Kind+" "+e.Text]++
}

// lacks returns those of a list that have not come.
func (w *witness) lacks(told []string) (missing []string) {
	w.mu.Lock()
	defer w.mu.Unlock()
	for _, text := range told {
		if w.events[text] == 0 {
			missing = append(missing, text)
		}
	}
	return missing
}

// cutter is a cable to the broker that can be cut.
type cutter struct {
	address string
	isCut   atomic.Bool

	mu    sync.Mutex // guards conns
	conns map[net.Conn]bool
}

func newCutter(t *testing.T, broker string) *cutter {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	c := &cutter{address: l.Addr().String(), conns: map[net.Conn]bool{}}
	t.Cleanup(func() { l.Close(); c.cut(true) })
	go func() {
		for {
			in, err := l.Accept()
			if err != nil {
				return
			}
			out, err := net.Dial("tcp", broker)
			if err != nil || c.isCut.Load() {
				in.Close()
				if out != nil {
					out.Close()
				}
				continue
			}
			go c.carry(in, out)
			go c.carry(out, in)
		}
	}()
	return c
}

func (c *cutter) carry(from, to net.Conn) {
	c.mu.Lock()
	c.conns[from] = true
	c.mu.Unlock()
	_, _ = io.Copy(to, from) // either end may go at any time
	from.Close()
	to.Close()
	c.mu.Lock()
	delete(c.conns, from)
	c.mu.Unlock()
}

// cut cuts the cable or mends it.
func (c *cutter) cut(on bool) {
	c.isCut.Store(on)
	if !on {
		return
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	for conn := range c.conns {
		conn.Close()
	}
}

// deafPhone is a phone without a network now and then.
type deafPhone struct {
	deaf atomic.Bool

	mu   sync.Mutex // guards kinds
	told map[notify.Kind]int
}

// got is how many letters of a kind came.
func (p *deafPhone) got(k notify.Kind) int {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.told[k]
}

func (p *deafPhone) sender(string, string) (notify.Sender, error) { return p, nil }

// Send takes a letter, or is out of reach.
func (p *deafPhone) Send(_ context.Context, l notify.Message) error {
	if p.deaf.Load() {
		return &notify.Failure{Fate: notify.Passing, Why: "no network"}
	}
	if strings.HasPrefix(l.Title, "Again") {
		return nil // said once more because no person came
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.told == nil {
		p.told = map[notify.Kind]int{}
	}
	p.told[l.Kind]++
	return nil
}

// smallDisk is a disk that can be filled, where the system lets a test mount
// one; else it is a folder that never fills.
type smallDisk struct {
	dir  string
	real bool
	t    *testing.T
}

func newSmallDisk(t *testing.T) *smallDisk {
	d := &smallDisk{dir: t.TempDir(), t: t}
	if err := unix.Mount("tmpfs", d.dir, "tmpfs", 0, "size=300m"); err != nil {
		t.Logf("no small disk can be mounted here, so none fills: %v", err)
		return d
	}
	d.real = true
	t.Cleanup(func() { _ = unix.Unmount(d.dir, unix.MNT_DETACH) })
	return d
}

// fill leaves no room on the disk, or makes room again.
func (d *smallDisk) fill(on bool) {
	ballast := filepath.Join(d.dir, "ballast")
	if !d.real || !on {
		_ = os.Remove(ballast) // it may not be there
		return
	}
	f, err := os.Create(ballast)
	if err != nil {
		return // it is full already
	}
	defer f.Close()
	block := make([]byte, 1<<16)
	for {
		if _, err := f.Write(block); errors.Is(err, syscall.ENOSPC) {
			return
		} else if err != nil {
			d.t.Error(err)
			return
		}
	}
}
