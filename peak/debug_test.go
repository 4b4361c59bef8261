package peak

import (
	"fmt"
	"math"
	"os"
	"testing"
)

func dump(d *Detector, start float64) {
	v, sd := d.trend.speed()
	h, _ := d.trend.at(0)
	fmt.Printf("%6.3f h %7.2f v %6.2f±%5.2f P %.2f sd %.2f bin %.3f btw %.3f w", d.trendAt-d.feed.at, h-d.feed.base, v, sd, d.trend.falling(0), d.noise.ofReading(), d.noise.ofBin(4), d.noise.between)
	for _, t := range d.trend.tracks {
		fmt.Printf(" %.2f(%.1f±%.1f)", t.w, t.x[1], sqrt(t.p[3]))
	}
	fmt.Println()
}

func TestDebug(t *testing.T) {
	name := os.Getenv("DBG")
	if name == "" {
		t.Skip()
	}
	rows := readRows(t, name)
	d := New(Opts{})
	last := 0.0
	for _, s := range rows {
		if s.fed {
			d.Fed(s.at)
		}
		ev := d.Add(s.at, s.height, s.temp)
		if d.trendAt > last+0.1 {
			last = d.trendAt
			dump(d, 0)
		}
		for _, e := range ev {
			if e.Kind == EventPeak {
				dump(d, 0)
				return
			}
		}
	}
}
func sqrt(x float64) float64 { return math.Sqrt(x) }

// TestDebugInvented: FAM=cusp SEED=5 FROM=-0.3 TO=0.5 (hours around the true top)
func TestDebugInvented(t *testing.T) {
	fam := os.Getenv("FAM")
	if fam == "" {
		t.Skip()
	}
	var seed uint64
	var from, to float64
	fmt.Sscan(os.Getenv("SEED"), &seed)
	fmt.Sscan(os.Getenv("FROM"), &from)
	fmt.Sscan(os.Getenv("TO"), &to)
	rec := quiet(seed)
	for _, f := range families {
		if f.name == fam {
			rec = single(f, seed)
		}
	}
	d := New(Opts{})
	tr := truth{}
	if len(rec.feeds) > 0 {
		tr = rec.feeds[0]
	}
	fmt.Printf("%+v period %.0f s\n", tr, rec.rows[1].at.Sub(rec.rows[0].at).Seconds())
	last := -1.0
	for _, s := range rec.rows {
		if s.fed {
			d.Fed(s.at)
		}
		ev := d.Add(s.at, s.height, s.temp)
		h := s.at.Sub(starts).Hours()
		if h > tr.peak+from && h < tr.peak+to && d.trendAt > last {
			last = d.trendAt
			fmt.Printf("g%d a%d ", d.glint.n, d.absent.n)
			dump(d, 0)
		}
		for _, e := range ev {
			if e.Kind != EventForecast {
				fmt.Printf("%.3f %s %s peak %.3f\n", h, e.Kind, e.Source, e.PeakAt.Sub(starts).Hours())
			}
		}
	}
}

func TestList(t *testing.T) {
	fam := os.Getenv("LIST")
	if fam == "" {
		t.Skip()
	}
	for seed := range uint64(40) {
		rec := quiet(seed)
		for _, f := range families {
			if f.name == fam {
				rec = single(f, seed)
			}
		}
		var one tally
		one.add(rec, starts, runInvented(rec, Opts{}))
		for _, r := range one.rows {
			if r.verdict != "on-top" {
				fmt.Println(fam, seed, r.verdict, r.delayMin, rec.feeds)
			}
		}
		if one.falseCalls > 0 {
			fmt.Println(fam, rec.name, seed, "false call")
		}
	}
}
