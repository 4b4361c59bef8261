// Package noise measures how a sensor's readings scatter and chooses from that
// how many to average.
//
// Averaging n readings divides their scatter by √n only if each is wrong in its
// own way. Neighbours that are wrong alike help less: with a correlation of ρ
// from one reading to the next, falling off as its powers, the variance of a
// mean of n is σ²/n·[1 + 2·Σ (1-k/n)·ρᵏ], k from 1 to n-1, which for long means
// tends to σ²/n·(1+ρ)/(1-ρ).
package noise

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"leavend/sensor"
)

// Stats describes a row of readings.
type Stats struct {
	N      int // readings that came
	Failed int // readings that did not

	Mean   float64 // in the readings' unit, as are the two below
	Median float64
	SD     float64 // standard deviation from reading to reading
	Rho    float64 // correlation of a reading with the next
}

// Of works the statistics of values out, in the order they came.
func Of(values []float64) Stats {
	s := Stats{N: len(values)}
	if s.N == 0 {
		return s
	}
	for _, v := range values {
		s.Mean += v / float64(s.N)
	}
	ordered := slices.Clone(values)
	slices.Sort(ordered)
	s.Median = Middle(ordered)
	var sum, lagged float64
	for i, v := range values {
		sum += (v - s.Mean) * (v - s.Mean)
		if i > 0 {
			lagged += (v - s.Mean) * (values[i-1] - s.Mean)
		}
	}
	if s.N > 1 {
		s.SD = math.Sqrt(sum / float64(s.N-1))
	}
	if sum > 0 {
		s.Rho = lagged / sum
	}
	return s
}

// Enough is the number of readings from which a correlation can be told: its
// own uncertainty is 1/√n, here a fifth.
const Enough = 25

// StandardError returns the standard deviation of a mean of n readings.
func (s Stats) StandardError(n int) float64 {
	rho := min(max(s.Rho, 0), 0.99)
	sum, power := 1.0, 1.0
	for k := 1; k < n; k++ {
		power *= rho
		sum += 2 * (1 - float64(k)/float64(n)) * power
	}
	return s.SD * math.Sqrt(sum/float64(n))
}

// Samples returns how many readings to average so that the mean's standard
// deviation is at most target, up to most. ok is false when there are too few
// readings to tell, or when even most of them do not suffice.
func (s Stats) Samples(target float64, most int) (n int, ok bool) {
	if s.N < Enough || !(target > 0) {
		return 1, false
	}
	for n = 1; n <= most; n++ {
		if s.StandardError(n) <= target {
			return n, true
		}
	}
	return most, false
}

// Mean is a source that averages another one.
type Mean struct {
	src    sensor.Source
	values []float64
	sorted []float64
}

// newMean returns a source whose reading is the mean of n readings of src, less
// those that stand out. It takes n times as long: mind the limit of the poller.
func newMean(src sensor.Source, n int) *Mean {
	return &Mean{src, make([]float64, n), make([]float64, n)}
}

// String names the source that is averaged.
func (m *Mean) String() string { return fmt.Sprintf("%v, %d averaged", m.src, len(m.values)) }

// ErrFew says that too many of the readings to average failed.
var ErrFew = errors.New("fewer than half of the readings came")

// Read takes the readings and returns their mean, at the time of the first.
// Its Sigma is the standard error that the readings themselves show, if they
// do not know it better. Half of them may fail; the error tells the last. When
// the first two fail it gives up, for the others would only take as long.
func (m *Mean) Read(ctx context.Context) (sensor.Reading, error) {
	var mean sensor.Reading
	var last error
	got, failed := 0, 0
	for range m.values {
		r, err := m.src.Read(ctx)
		if err != nil {
			if last = err; ctx.Err() != nil {
				return sensor.Reading{}, err
			}
			if failed++; failed == 2 && got == 0 && len(m.values) > 2 {
				break
			}
			continue
		}
		if got == 0 {
			mean = r
		}
		m.values[got] = r.Value
		got++
	}
	if 2*got < len(m.values) || got == 0 {
		return sensor.Reading{}, fmt.Errorf("%d of %d: %w: %w", got, len(m.values), ErrFew, last)
	}
	mean.Value, mean.Sigma = m.robust(m.values[:got], mean.Sigma)
	return mean, nil
}

// robust returns the mean of the values within three standard deviations of
// the median, as the median deviation measures them (times 1.4826, for Gaussian
// noise), and the standard error of that mean. one is what a single reading
// says of its own deviation.
func (m *Mean) robust(v []float64, one float64) (mean, sigma float64) {
	sorted := m.sorted[:copy(m.sorted, v)]
	slices.Sort(sorted)
	middle := Middle(sorted)
	for i, x := range v {
		sorted[i] = math.Abs(x - middle)
	}
	slices.Sort(sorted)
	spread := 1.4826 * Middle(sorted)
	n, sum := 0.0, 0.0
	for _, x := range v {
		if math.Abs(x-middle) <= 3*spread {
			n, sum = n+1, sum+x
		}
	}
	return sum / n, max(spread, one) / math.Sqrt(n)
}

// Middle returns the middle of sorted values: their median.
func Middle(v []float64) float64 {
	n := len(v)
	return (v[(n-1)/2] + v[n/2]) / 2
}
