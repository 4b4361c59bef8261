package control

import (
	"bufio"
	"flag"
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"
)

var updateEvening = flag.Bool("update-evening", false, "write testdata/evening.txt again")

// evening plays a fixed evening to the thermostat: a vessel of one pole and a
// dead time, a mat switched by a script, a probe's noise, a feed, a probe in the
// room that speaks from the sixth hour on, and a fall of the probe. Invented.
// Nothing that the thermostat says moves it, so what the model makes of it can
// be held to what it made before, number by number.
func evening(tell func(minute int, t *thermostat, counts [4]int)) {
	th := &thermostat{halfC: 0.3, minOff: 2 * time.Minute, cycle: 10 * time.Minute, matTopC: 42}
	const step = 10 * time.Second
	vessel, seed, queue := 19.0, uint32(7), make([]float64, 30)
	var counts [4]int
	for i := range 9 * 360 {
		at := time.Duration(i) * step
		h := at.Hours()
		on := at > 5*time.Minute && (h < 0.9 || h > 1.2 && (i/6)%13 < 5 || h > 7 && (i/6)%29 < 17)
		heat := 0.0
		if on {
			heat = 0.2 / 6
		}
		heat, queue[i%len(queue)] = queue[i%len(queue)], heat
		room := 18 + 0.4*math.Sin(h)
		vessel += heat - (vessel-room)/(140*6)
		if i == 5*360 {
			vessel = 21 // fed
		}
		seed = seed*1664525 + 1013904223
		c := vessel + 0.06*(float64(seed>>16)/65536-0.5)
		if h > 7.5 {
			c = room
		}
		if h > 6 {
			th.model.roomC, th.model.roomOK = room, true
		}
		th.live(at, on)
		th.learn(at, math.Round(c*16)/16)
		th.matC, th.matOK = 30+15*math.Sin(3*h), h > 3 && h < 4
		th.update(at, c, 23.5+math.Floor(h/4))
		for k, is := range []bool{th.wish, th.why == ReasonAhead, th.why == ReasonWithin, th.why == ReasonMatWarm} {
			if is {
				counts[k]++
			}
		}
		if i%120 == 119 {
			tell((i+1)/6, th, counts)
			counts = [4]int{}
		}
	}
}

// told is what is held of one moment.
func told(th *thermostat) []float64 {
	m := &th.model
	p, q := m.plan(24, 2, 10, 0), m.plan(22, 0, 10, 1)
	e, wary := m.evidence(24, false), *m
	v := []float64{p.share, p.window, p.gain, p.offset, q.share, q.window, m.rate(), m.levelsOff(), m.contact, m.jumps, m.offset,
		m.need.was, m.need.slow, m.need.used, m.need.more, m.need.gap, float64(e), float64(wary.evidence(23, true))}
	if l := m.learnt(); l != nil {
		v = append(v, l.DelayMin, l.RateCMin, l.LossMin, l.Share, l.OnMin, l.Contact, l.Was, l.GapC, l.UsedPart)
		var n model
		n.begin(22)
		n.recall(*l, 22, 3)
		r := n.plan(24, 0, 10, 0)
		v = append(v, n.rate(), n.contact, n.jumps, r.share, n.need.was, n.x[4].arrives(ways[4]))
	}
	c, far, ok := th.expect(24)
	v = append(v, c)
	for _, is := range []bool{far, ok} {
		v = append(v, map[bool]float64{true: 1}[is])
	}
	return v
}

// TestEvening holds the model and the law to a fixed evening. A change that
// means to move them renews it: go test ./control -run TestEvening -update-evening
func TestEvening(t *testing.T) {
	const file = "testdata/evening.txt"
	var got []string
	evening(func(minute int, th *thermostat, counts [4]int) {
		line := []string{strconv.Itoa(minute)}
		for _, v := range told(th) {
			line = append(line, strconv.FormatFloat(v, 'g', 7, 64))
		}
		for _, n := range counts {
			line = append(line, strconv.Itoa(n))
		}
		got = append(got, strings.Join(line, " "))
	})
	if *updateEvening {
		if err := os.WriteFile(file, []byte(strings.Join(got, "\n")+"\n"), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	f, err := os.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	lines := bufio.NewScanner(f)
	n := 0
	for ; lines.Scan() && n < len(got); n++ {
		if err := near(strings.Fields(got[n]), strings.Fields(lines.Text())); err != nil {
			t.Fatalf("minute %s: %v", strings.Fields(got[n])[0], err)
		}
	}
	if n != len(got) || lines.Scan() {
		t.Errorf("%d moments, and the file has another number", len(got))
	}
}

// near compares two lines; processors differ in their last digits.
func near(got, want []string) error {
	if len(got) != len(want) {
		return fmt.Errorf("%d numbers, want %d", len(got), len(want))
	}
	for i := range got {
		a, _ := strconv.ParseFloat(got[i], 64)
		b, err := strconv.ParseFloat(want[i], 64)
		if err != nil || math.Abs(a-b) > 1e-4*math.Max(1, math.Abs(b)) {
			return fmt.Errorf("number %d is %s, want %s (%v)", i, got[i], want[i], err)
		}
	}
	return nil
}
