package plan

import "math"

// node is one stage on the grid: work of so many slots, or a wait with
// several ways to spend it.
type node struct {
	hands int   // slots of work; 0 is a wait
	lead  int   // slots before the work at which somebody must be there
	ways  []way // of a wait
}

// way is one choice of how to spend a wait.
type way struct {
	cost   float64
	missed func(start int) float64 // what it costs besides, by where it begins; nil: nothing
	ready  func(start int) []int   // equally likely numbers of slots until it is ready, rising
	use    *curve                  // when the next stage may begin, from the slot at which it is ready
	hold   *curve                  // nil, or how long it may then lie in the fridge
}

// curve is what it costs to act a number of slots after a moment: cost[0] is
// for from slots after it. Outside, it cannot be done.
type curve struct {
	from int
	cost []float64
	lo   int // from here
	hi   int // to here is within tolerance
}

// move is what to do once a wait is seen to be ready: begin the next stage at
// a slot, perhaps after a stay in the fridge from slot held on.
type move struct {
	at, held int // held is -1 without a stay; at is -1 when nothing can be done
	cost     float64
}

// grid is the time that a plan lies in.
type grid struct {
	free []bool    // whether somebody can work in a slot
	end  []float64 // what it costs to be through at a slot
}

// table holds the cost of starting each stage at each slot, and what to do.
type table struct {
	g     grid
	nodes []node
	value [][]float64
	best  [][]int              // the way to choose
	after []map[useHold][]move // by stage: what to do once ready at a slot
}

type useHold struct{ use, hold *curve }

// solve fills the table from the last stage to the first.
func solve(g grid, nodes []node) *table {
	n := len(g.end)
	t := &table{g: g, nodes: nodes, value: make([][]float64, len(nodes)+1), best: make([][]int, len(nodes)), after: make([]map[useHold][]move, len(nodes))}
	t.value[len(nodes)] = g.end
	for i := len(nodes) - 1; i >= 0; i-- {
		t.value[i], t.best[i] = make([]float64, n), make([]int, n)
		if nodes[i].hands > 0 {
			t.work(i)
			continue
		}
		t.wait(i)
	}
	return t
}

// work fills in a stage that needs the baker.
func (t *table) work(i int) {
	for s := range t.value[i] {
		t.value[i][s] = math.Inf(1)
		if t.g.canWork(s-t.nodes[i].lead, s+t.nodes[i].hands) {
			t.value[i][s] = t.value[i+1][s+t.nodes[i].hands]
		}
	}
}

// canWork reports whether somebody is there from one slot up to another.
func (g grid) canWork(from, to int) bool {
	if from < 0 || to >= len(g.end) {
		return false
	}
	for s := from; s < to; s++ {
		if !g.free[s] {
			return false
		}
	}
	return true
}

// wait fills in a stage that needs only time.
func (t *table) wait(i int) {
	t.after[i] = map[useHold][]move{}
	for s := range t.value[i] {
		t.value[i][s] = math.Inf(1)
		for w := range t.nodes[i].ways {
			if c := t.spend(i, w, s); c < t.value[i][s] {
				t.value[i][s], t.best[i][s] = c, w
			}
		}
	}
}

// spend is the expected cost of starting wait i at slot s in way w.
func (t *table) spend(i, w, s int) float64 {
	y := t.nodes[i].ways[w]
	moves, outcomes := t.moves(i, y), y.ready(s)
	sum := 0.0
	for _, d := range outcomes {
		sum += moveAt(moves, s+d).cost
	}
	if y.missed != nil {
		sum += y.missed(s) * float64(len(outcomes))
	}
	return y.cost + sum/float64(len(outcomes))
}

// moveAt returns the move for a wait that is ready at a slot; one that is
// ready after the end of the grid has failed.
func moveAt(moves []move, s int) move {
	if s >= len(moves) {
		return move{-1, -1, failed}
	}
	return moves[s]
}

// moves returns the best to do for each slot at which a wait may be ready.
func (t *table) moves(i int, y way) []move {
	key := useHold{y.use, y.hold}
	if m, ok := t.after[i][key]; ok {
		return m
	}
	next := t.value[i+1]
	var away []move
	if y.hold != nil {
		away = t.chill(next, y.hold)
	}
	m := make([]move, len(next))
	for s := range m {
		m[s] = move{-1, -1, failed}
		for k, c := range y.use.cost {
			at := s + y.use.from + k
			if at < 0 || at >= len(next) {
				continue
			}
			if c+next[at] < m[s].cost {
				m[s] = move{at, -1, c + next[at]}
			}
			if away != nil && y.use.from+k >= 0 && c+away[at].cost < m[s].cost {
				m[s] = move{away[at].at, at, c + away[at].cost}
			}
		}
	}
	t.after[i][key] = m
	return m
}

// chill returns the best to do for each slot at which something may be put
// into the fridge.
func (t *table) chill(next []float64, hold *curve) []move {
	m := make([]move, len(next))
	for s := range m {
		m[s] = move{-1, -1, math.Inf(1)}
		if !t.g.free[s] {
			continue
		}
		for k, c := range hold.cost {
			at := s + hold.from + k
			if at < len(next) && c+next[at] < m[s].cost {
				m[s] = move{at, s, c + next[at]}
			}
		}
	}
	return m
}
