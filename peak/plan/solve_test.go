package plan

import (
	"math"
	"math/rand/v2"
	"testing"
)

// walk is the plan's question answered without a table: it tries every choice
// at every point of the tree and every outcome of every wait. It shares no
// code with solve.
func walk(g grid, nodes []node, start int) float64 {
	if start < 0 || start >= len(g.end) {
		return math.Inf(1)
	}
	if len(nodes) == 0 {
		return g.end[start]
	}
	n, rest := nodes[0], nodes[1:]
	if n.hands > 0 {
		for s := start - n.lead; s < start+n.hands; s++ {
			if s < 0 || s >= len(g.free) || !g.free[s] {
				return math.Inf(1)
			}
		}
		return walk(g, rest, start+n.hands)
	}
	best := math.Inf(1)
	for _, y := range n.ways {
		mean, outcomes := y.cost, y.ready(start)
		for _, d := range outcomes {
			mean += walkReady(g, rest, y, start+d) / float64(len(outcomes))
		}
		best = min(best, mean)
	}
	return best
}

// walkReady is the best that can be done when a wait is ready at a slot.
func walkReady(g grid, rest []node, y way, ready int) float64 {
	if ready >= len(g.end) {
		return failed
	}
	best := failed
	for k, c := range y.use.cost {
		at := ready + y.use.from + k
		best = min(best, c+walk(g, rest, at))
		if y.hold == nil || y.use.from+k < 0 || at < 0 || at >= len(g.free) || !g.free[at] {
			continue
		}
		for j, h := range y.hold.cost {
			best = min(best, c+h+walk(g, rest, at+y.hold.from+j))
		}
	}
	return best
}

// invented makes a small problem by chance.
func invented(rng *rand.Rand) (grid, []node) {
	n := 8 + rng.IntN(7)
	g := grid{free: make([]bool, n), end: make([]float64, n)}
	for s := range n {
		g.free[s] = rng.Float64() < 0.75
		g.end[s] = 20 * rng.Float64()
		if rng.Float64() < 0.2 {
			g.end[s] = 60
		}
	}
	some := func(from, most int, scale float64) *curve {
		c := &curve{from: from}
		for range 1 + rng.IntN(most) {
			c.cost = append(c.cost, scale*rng.Float64())
		}
		return c
	}
	var nodes []node
	for i := range 3 + rng.IntN(3) {
		if i%2 == 0 {
			nodes = append(nodes, node{hands: 1 + rng.IntN(2), lead: rng.IntN(2)})
			continue
		}
		var w node
		for range 1 + rng.IntN(3) {
			a := 1 + rng.IntN(3)
			atoms := []int{a, a + rng.IntN(2), a + 1 + rng.IntN(2)}[:1+rng.IntN(3)]
			y := way{cost: 3 * rng.Float64(), ready: func(s int) []int { return atoms }, use: some(-rng.IntN(2), 3, 30)}
			if rng.Float64() < 0.4 {
				y.hold = some(1, 3, 10)
			}
			w.ways = append(w.ways, y)
		}
		nodes = append(nodes, w)
	}
	return g, nodes
}

func TestSolveEqualsTheWholeTree(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 25))
	finite := 0
	for trial := range 400 {
		g, nodes := invented(rng)
		got := solve(g, nodes)
		for s := range g.end {
			want := walk(g, nodes, s)
			if math.IsInf(want, 1) != math.IsInf(got.value[0][s], 1) || !math.IsInf(want, 1) && math.Abs(want-got.value[0][s]) > 1e-9 {
				t.Fatalf("case %d, start %d: cost %v, the whole tree gives %v", trial, s, got.value[0][s], want)
			}
			if !math.IsInf(want, 1) && want < failed {
				finite++
			}
		}
	}
	if finite < 500 {
		t.Errorf("only %d starts could be planned at all; the cases show nothing", finite)
	}
}

// TestCostIsWhatHappens plays the policy many times by chance and compares the
// mean of what it cost with what the table says.
func TestCostIsWhatHappens(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 25))
	for trial := 0; trial < 20; {
		g, nodes := invented(rng)
		table := solve(g, nodes)
		start := rng.IntN(len(g.end))
		if math.IsInf(table.value[0][start], 1) {
			continue
		}
		trial++
		const plays = 4000
		sum, squares := 0.0, 0.0
		for range plays {
			c := play(rng, table, start)
			sum, squares = sum+c, squares+c*c
		}
		mean := sum / plays
		off := 5 * math.Sqrt((squares/plays-mean*mean)/plays)
		if math.Abs(mean-table.value[0][start]) > off+1e-9 {
			t.Errorf("case %d: played %.2f, said %.2f", trial, mean, table.value[0][start])
		}
	}
}

// play goes once through a policy, each wait as chance has it.
func play(rng *rand.Rand, t *table, s int) float64 {
	cost := 0.0
	for i, n := range t.nodes {
		if n.hands > 0 {
			s += n.hands
			continue
		}
		y := n.ways[t.best[i][s]]
		outcomes := y.ready(s)
		ready := s + outcomes[rng.IntN(len(outcomes))]
		cost += y.cost
		m := moveAt(t.moves(i, y), ready)
		if m.at < 0 {
			return cost + failed
		}
		if m.held >= 0 {
			cost += y.use.at(m.held-ready) + y.hold.at(m.at-m.held)
		} else {
			cost += y.use.at(m.at - ready)
		}
		s = m.at
	}
	return cost + t.g.end[s]
}
