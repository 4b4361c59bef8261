//go:build unix

package store

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"time"
)

// BenchmarkYear takes -year 365 for the full campaign, and -yearfile to keep
// the store it makes for the next run.
var (
	yearDays = flag.Int("year", 3, "days that BenchmarkYear fills a store with")
	yearFile = flag.String("yearfile", "", "file that BenchmarkYear makes its store in, or finds it in")
)

// BenchmarkYear fills a store with four jars at 10 s and four channels, as in
// normal running (a block a minute, thinned after 90 days), and measures
// windows from an hour to all of it, the worst of many at random places, and
// the bytes a day that blocks and rollups take. The data is invented: a curve
// every 12 h with a millimetre of noise, probes of 1/16 °C.
func BenchmarkYear(b *testing.B) {
	w := newHandClock()
	path := filepath.Join(b.TempDir(), "year.db")
	if *yearFile != "" {
		path = *yearFile
	}
	_, err := os.Stat(path)
	s := reopen(b, path, w)
	defer func() { s.Close() }()
	s.Readings.blockMS = minuteMS
	from := w.Now()
	if err != nil {
		began := time.Now()
		fillYear(b, s, w, *yearDays)
		b.Logf("%d days of four jars written in %v", *yearDays, time.Since(began).Round(time.Second))
	} else {
		w.pass(time.Duration(*yearDays) * 24 * time.Hour)
	}
	to := w.Now()
	span := to.Sub(from)
	reportSizes(b, s, span)

	rng := rand.New(rand.NewPCG(7, 8))
	for _, length := range []time.Duration{time.Hour, 6 * time.Hour, 30 * time.Hour, 4 * 24 * time.Hour,
		41 * 24 * time.Hour, 100 * 24 * time.Hour, 365 * 24 * time.Hour} {
		if length > span {
			break
		}
		b.Run(fmt.Sprintf("window=%v", length), func(b *testing.B) {
			b.ReportAllocs()
			points, worst := 0, time.Duration(0)
			cpu := cpuTime()
			for range b.N {
				start := from.Add(time.Duration(rng.Int64N(int64(span-length) + 1)))
				if length <= 30*time.Hour { // where the full rate is still kept
					start = to.Add(-length - time.Duration(rng.Int64N(int64(time.Hour))))
				}
				t0 := time.Now()
				win, err := s.Readings.Window(b.Context(), "Bramble", start, start.Add(length), MaxPoints)
				if err != nil {
					b.Fatal(err)
				}
				points, worst = max(points, len(win.Points)), max(worst, time.Since(t0))
			}
			b.ReportMetric(float64((cpuTime()-cpu).Microseconds())/1000/float64(b.N), "cpu-ms/op")
			b.ReportMetric(float64(points), "points")
			b.ReportMetric(float64(worst.Microseconds())/1000, "worst-ms")
		})
	}
	b.Run("replay=24h", func(b *testing.B) {
		n := 0
		for range b.N {
			n = 0
			for _, err := range s.Readings.ReadingsSince(b.Context(), "Bramble", to.Add(-24*time.Hour)) {
				if err != nil {
					b.Fatal(err)
				}
				n++
			}
		}
		b.ReportMetric(float64(n), "readings")
	})
	b.Run("restart", func(b *testing.B) {
		for range b.N {
			s.Close()
			s = reopen(b, s.Path(), w)
		}
	})
}

// cpuTime is what this process has used of the processor: on a machine that
// others use too it says more than the time that went by.
func cpuTime() time.Duration {
	var u syscall.Rusage
	syscall.Getrusage(syscall.RUSAGE_SELF, &u)
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// fillYear writes days of four jars through the same path as the daemon.
func fillYear(b *testing.B, s *Store, w *handClock, days int) {
	b.Helper()
	rng := rand.New(rand.NewPCG(1, 1))
	for day := range days {
		for i := range 8640 {
			at := w.Now()
			for jar, vessel := range []string{"Bramble", "Pilot", "Third", "Fourth"} {
				phase := math.Mod(float64(day*8640+i)/4320+float64(jar)/4, 1) // of 12 h
				rise := 60 * math.Sin(math.Pi*math.Sqrt(phase))
				on := 0.0
				if i/60%3 == 0 {
					on = 1
				}
				s.Readings.Add(Reading{vessel, Distance, at, math.Round(140 - rise + rng.NormFloat64())})
				s.Readings.Add(Reading{vessel, Warmth, at, math.Round((25+phase+0.05*rng.NormFloat64())*16) / 16})
				s.Readings.Add(Reading{vessel, MatTemp, at, math.Round((29+3*on+0.1*rng.NormFloat64())*16) / 16})
				s.Readings.Add(Reading{vessel, MatOn, at, on})
			}
			w.pass(10 * time.Second)
			if i%360 == 359 {
				flush(b, s)
			}
		}
		if day%30 == 29 {
			if err := s.Readings.Thin(b.Context()); err != nil {
				b.Fatal(err)
			}
		}
	}
}

// reportSizes prints what a day of four jars takes.
func reportSizes(b *testing.B, s *Store, span time.Duration) {
	b.Helper()
	var n, first, last, blocks int64
	err := s.file.r.QueryRow(`SELECT count(*), min(t), max(last), sum(length(data)) FROM block`).Scan(&n, &first, &last, &blocks)
	if err != nil {
		b.Fatal(err)
	}
	if _, err := s.file.w.Exec(`PRAGMA wal_checkpoint(TRUNCATE)`); err != nil {
		b.Fatal(err)
	}
	info, err := os.Stat(s.Path())
	if err != nil {
		b.Fatal(err)
	}
	b.Logf("%d blocks over %.0f days, %.1f MB of data, %.0f kB a day; file %.1f MB", n, float64(last-first)/dayMS,
		float64(blocks)/1e6, float64(blocks)/1e3/(float64(last-first)/dayMS), float64(info.Size())/1e6)
	for level := range levels {
		var rows, bytes int64
		err := s.file.r.QueryRow(`SELECT count(*), ifnull(sum(length(data)), 0) FROM rollup WHERE level = ?`, level).Scan(&rows, &bytes)
		if err != nil {
			b.Fatal(err)
		}
		b.Logf("rollups of %v: %d pages, %.1f MB, %.1f kB a day", time.Duration(levels[level].width)*time.Millisecond,
			rows, float64(bytes)/1e6, float64(bytes)/1e3/(span.Hours()/24))
	}
	tables, err := s.file.r.Query(`SELECT name, sum(pgsize) FROM dbstat GROUP BY name ORDER BY 2 DESC LIMIT 5`)
	if err != nil {
		b.Log("dbstat:", err)
		return
	}
	defer tables.Close()
	for tables.Next() {
		var name string
		var size int64
		if err := tables.Scan(&name, &size); err != nil {
			b.Fatal(err)
		}
		b.Logf("%s: %.1f MB on disk", name, float64(size)/1e6)
	}
}
