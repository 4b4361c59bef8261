package dough

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
)

// Rated is a loaf that its baker rated, and where the bulk of its dough ended.
type Rated struct {
	Stars int     // 1 to 5
	Rise  float64 // a share of its volume at the mixing
	TempC float64 // of the dough
}

// Best is where the best loaves of one kind ended their bulk.
type Best struct {
	Rated, Best       int     // loaves: in all, and the best of them
	TempC             float64 // the middle one of their doughs
	Low, High, Middle float64 // of the best loaves' rise, as dough of TempC would have it
	ByChance          float64 // how often as many loaves, drawn at random, lie as close together
}

// What makes a signal of some loaves; all are choices of ours, and RESULTS.md has how often
// they find one that is there, and one that is not.
const (
	leastRated  = 5
	leastBest   = 3
	mostRated   = 30   // the latest
	mostBest    = 0.6  // of all: where more share the stars, stars tell nothing
	widest      = 0.20 // from the lowest to the highest of the best
	chanceLimit = 0.10 // at the fewest loaves; less where more were tried, see limit
	drawn       = 4000 // subsets, where there are too many to look at all
)

// BestOf finds where a baker's best loaves ended their bulk; false where the loaves are too
// few, or their stars say nothing of it. Loaves are of one kind, oldest first. A rise counts
// as what it would be at the middle temperature by the table. The best are the third with
// the most stars, and those that share the last one's. They say something if they lie
// closer together than loaves that are drawn at random from all.
func BestOf(loaves []Rated, next Next, table Stops) (Best, bool) {
	all := usable(loaves)
	n := len(all)
	if n < leastRated {
		return Best{}, false
	}
	out := Best{Rated: n, TempC: middle(all, func(r Rated) float64 { return r.TempC })}
	for i := range all {
		all[i].Rise *= table.Rise(out.TempC, next) / table.Rise(all[i].TempC, next)
	}
	slices.SortStableFunc(all, func(a, b Rated) int { return cmp.Compare(b.Stars, a.Stars) })
	k := max(leastBest, (n+2)/3)
	for k < n && all[k].Stars == all[k-1].Stars {
		k++
	}
	best := all[:k]
	out.Best = k
	if float64(k) > mostBest*float64(n) {
		return out, false
	}
	rises := func(r Rated) float64 { return r.Rise }
	out.Low = slices.MinFunc(best, func(a, b Rated) int { return cmp.Compare(a.Rise, b.Rise) }).Rise
	out.High = slices.MaxFunc(best, func(a, b Rated) int { return cmp.Compare(a.Rise, b.Rise) }).Rise
	out.Middle = middle(best, rises)
	if out.High-out.Low > widest {
		return out, false
	}
	out.ByChance = byChance(all, k)
	return out, out.ByChance <= limit(n)
}

// usable are the latest loaves of which stars, rise and temperature are known.
func usable(loaves []Rated) (out []Rated) {
	for _, r := range loaves {
		if r.Stars >= 1 && r.Stars <= 5 && r.Rise >= 0.05 && r.Rise <= 4 && r.TempC >= 5 && r.TempC <= 40 {
			out = append(out, r)
		}
	}
	return out[max(0, len(out)-mostRated):]
}

// limit is how likely chance may be among n loaves. Whoever looks after each loaf looks
// often, so it falls as loaves come; five loaves cannot show less than a tenth.
func limit(n int) float64 { return chanceLimit * math.Pow(leastRated/float64(n), 1.5) }

// byChance is in which share of all ways to choose k loaves these lie as close together as
// the first k do.
func byChance(all []Rated, k int) float64 {
	want := variance(all, firstOf(k)) * (1 + 1e-9)
	subset, as, of := firstOf(k), 0, 0
	if ways(len(all), k) <= drawn {
		for more := true; more; more = following(subset, len(all)) {
			if of++; variance(all, subset) <= want {
				as++
			}
		}
		return float64(as) / float64(of)
	}
	chance := rand.New(rand.NewPCG(1, uint64(len(all))))
	order := firstOf(len(all))
	for as, of = 1, 1; of <= drawn; of++ { // the one that was observed is one of them
		chance.Shuffle(len(order), func(i, j int) { order[i], order[j] = order[j], order[i] })
		if variance(all, order[:k]) <= want {
			as++
		}
	}
	return float64(as) / float64(of)
}

func firstOf(k int) []int {
	out := make([]int, k)
	for i := range out {
		out[i] = i
	}
	return out
}

// following makes of a choice of places below n the next one, in lexical order; false after
// the last.
func following(choice []int, n int) bool {
	k := len(choice)
	i := k - 1
	for i >= 0 && choice[i] == n-k+i {
		i--
	}
	if i < 0 {
		return false
	}
	for choice[i]++; i+1 < k; i++ {
		choice[i+1] = choice[i] + 1
	}
	return true
}

// ways is how many choices of k out of n there are.
func ways(n, k int) float64 {
	out := 1.0
	for i := range k {
		out *= float64(n-i) / float64(i+1)
	}
	return out
}

func variance(all []Rated, places []int) float64 {
	sum, squares := 0.0, 0.0
	for _, i := range places {
		sum += all[i].Rise
		squares += all[i].Rise * all[i].Rise
	}
	n := float64(len(places))
	return squares/n - sum*sum/n/n
}

// middle is the median of a number of each loaf.
func middle(all []Rated, of func(Rated) float64) float64 {
	v := make([]float64, len(all))
	for i, r := range all {
		v[i] = of(r)
	}
	slices.Sort(v)
	return (v[len(v)/2] + v[(len(v)-1)/2]) / 2
}
