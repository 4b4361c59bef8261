package peak

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// The bounds say what no detector can beat without a model of the curve, for
// a top h = H - c(t-tp)² in white noise of standard deviation sigma (mm) at
// rate readings an hour. Times are in hours.

// leastDelay is the least median delay of any shape-free detector whose
// chance of a false call in a run is that of the normal quantile z: the
// closest curve without a fall is flat over the last 3/2 of the delay, and
// Neyman and Pearson say how well the two can be told apart.
func leastDelay(z, sigma, c, rate float64) float64 {
	return math.Pow(80.0/9*z*z*sigma*sigma/(c*c*rate), 0.2)
}

// leastError is the Cramér-Rao bound on the time of the top, with height and
// curvature unknown, from a window that reaches before hours before the top
// to after hours behind it.
func leastError(sigma, c, rate, before, after float64) float64 {
	w := before + after
	d := (after - before) / w
	return sigma / c / math.Sqrt(rate*w*w*w) * math.Sqrt(3+45*d*d)
}

const z1 = 2.326347874 // normal quantile of 99 %

// TestBoundFormulas holds the formulas to the worked example: c = 2 mm/h²,
// sigma = 1 mm, 360 readings an hour.
func TestBoundFormulas(t *testing.T) {
	near(t, "least median delay at 1 %, min", 60*leastDelay(z1, 1, 2, 360), 30.4, 0.002)
	near(t, "least median delay at 5 %, min", 60*leastDelay(1.644853627, 1, 2, 360), 26.5, 0.002)
	near(t, "Cramér-Rao, one hour around the top, min", 60*leastError(1, 2, 360, 0.5, 0.5), 2.7, 0.02)
	near(t, "Cramér-Rao, the hour before the top, min", 60*leastError(1, 2, 360, 1, 0), 11.0, 0.01)
}

// boundRow compares one feed's call with what is possible.
func boundRow(name string, f truth, sigma float64, call, said float64) string {
	half := (f.hi - f.lo) / 2
	c := max(1, 0.02*f.rise) / (half * half)
	const rate = 60 // minutes
	bound := 60 * leastDelay(z1, sigma, c, rate)
	after := max(call-f.peak, 0)
	cr := 60 * leastError(sigma, c, rate, min(2*half, 1.5), after)
	return fmt.Sprintf("%-12s %6.1f %6.2f %7.1f %8.1f %9.1f %9.1f %8.1f\n", name, c, sigma, 60*half,
		60*(call-f.peak), bound, 60*math.Abs(said-f.peak), cr)
}

// TestBounds prints, for each shared recording, what was achieved against the
// bounds. The delay may be below its bound, and honestly so, since the
// network knows how starters' curves look.
func TestBounds(t *testing.T) {
	recs, from := loadShared(t)
	var b strings.Builder
	b.WriteString("feed         c mm/h² noise  zone±min  delay  shape-free  stated     Cramér-\n")
	b.WriteString("                    mm/min             min   bound min  error min  Rao min\n")
	for i, rec := range recs {
		if len(rec.feeds) != 1 {
			continue
		}
		d := New(Opts{})
		for _, s := range rec.rows {
			if s.fed {
				d.Fed(s.at)
			}
			sigma := math.Sqrt(d.noise.ofBin(int(d.noise.perBin + 0.5)))
			for _, e := range d.Add(s.at, s.height, s.temp) {
				if e.Kind == EventPeak {
					call, said := e.At.Sub(from[i]).Hours(), e.PeakAt.Sub(from[i]).Hours()
					b.WriteString(boundRow(fmt.Sprintf("%s %d", rec.name, i), rec.feeds[0], sigma, call, said))
				}
			}
		}
	}
	t.Log("\n" + b.String())
}
