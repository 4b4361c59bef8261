package peak

import "math"

// kink looks for a turn that happened within the last minutes. For each of
// some moments back it takes the state that the steady track had then, draws
// it on, and measures how the speed must have changed at that moment to give
// the minutes since. A sharp top is seen so within minutes, while a track
// that smooths over an hour still climbs.
type kink struct {
	n     int
	t     [kinkRing]float64
	y     [kinkRing]float64 // minute means
	r     [kinkRing]float64 // their variances
	x     [kinkRing][3]float64
	p     [kinkRing][4]float64 // of the state: hh hs ss sa
	found turn
}

// turn is the most telling change of speed.
type turn struct {
	score float64 // change of speed in standard deviations, the most negative
	speed float64 // mm/h since
	sd    float64
	hours float64 // how long ago
}

const kinkRing = 32

// kinkBack lists the moments that are tried, in minutes (bins) back.
var kinkBack = [...]int{2, 3, 4, 5, 7, 9, 12, 16, 21, 28}

func (k *kink) reset() { k.n, k.found = 0, turn{} }

// add takes in a minute's mean with its variance and the track that has just
// taken it in.
func (k *kink) add(t, y, r float64, tr *track) {
	i := k.n % kinkRing
	k.t[i], k.y[i], k.r[i] = t, y, r
	k.x[i] = tr.x
	k.p[i] = [4]float64{tr.p[0], tr.p[1], tr.p[3], tr.p[4]}
	k.n++
	k.search()
}

// shift moves the kept heights, after a step of the level.
func (k *kink) shift(by float64) {
	for i := range k.y {
		k.y[i] += by
		k.x[i][0] += by
	}
}

func (k *kink) search() {
	k.found = turn{score: math.Inf(1)}
	for _, back := range kinkBack {
		if back >= k.n || back >= kinkRing {
			break
		}
		if f := k.since(back); f.score < k.found.score {
			k.found = f
		}
	}
	if math.IsInf(k.found.score, 1) {
		k.found = turn{}
	}
}

// since fits a change of speed at the moment back bins ago.
func (k *kink) since(back int) turn {
	from := (k.n - 1 - back) % kinkRing
	x, p, t0 := k.x[from], k.p[from], k.t[from]
	var num, den float64
	for j := k.n - back; j < k.n; j++ {
		i := j % kinkRing
		dt := k.t[i] - t0
		w := 1 / (k.r[i] + p[0])
		num += w * dt * (k.y[i] - x[0] - x[1]*dt - x[2]*dt*dt/2)
		den += w * dt * dt
	}
	dt := k.t[(k.n-1)%kinkRing] - t0
	change := num / den
	sd := math.Sqrt(1/den + p[2])
	return turn{score: change / sd, speed: x[1] + x[2]*dt/2 + change, sd: math.Sqrt(1 / den), hours: dt}
}
