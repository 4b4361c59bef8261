package peak

// recent keeps the minutes of the last three hours as they were measured, so
// that those who judge the top see more than what the bank made of them.
type recent struct {
	n int
	t [recentCap]float64 // hours on the clock
	y [recentCap]float64 // height, mm
}

const recentCap = 192

// recentEdges part the last three hours into windows, in minutes before the
// last minute: fine where a fall would show first, coarse where only its shape
// matters.
var recentEdges = [...]float64{-0.5, 1.5, 3.5, 6.5, 10.5, 15.5, 22.5, 31.5, 44.5, 63.5, 89.5, 127.5, 180}

const recentWindows = len(recentEdges) - 1

func (r *recent) reset() { r.n = 0 }

// add takes in a minute's mean.
func (r *recent) add(t, y float64) {
	i := r.n % recentCap
	r.t[i], r.y[i] = t, y
	r.n++
}

// shift moves the kept heights, after a step of the level.
func (r *recent) shift(by float64) {
	for i := range r.y {
		r.y[i] += by
	}
}

// shiftBefore moves the kept heights from before the given hours.
func (r *recent) shiftBefore(hours, by float64) {
	for i := range r.y {
		if r.t[i] < hours {
			r.y[i] += by
		}
	}
}

// means fills out with the mean height of each window before now. A window
// without a minute takes the value of the next younger one; the youngest
// takes h.
func (r *recent) means(now, h float64, out *[recentWindows]float64) {
	w, sum, n := 0, 0.0, 0
	last := h
	for k := r.n - 1; k >= 0 && k >= r.n-recentCap; k-- {
		age := 60 * (now - r.t[k%recentCap])
		for w < recentWindows && age >= recentEdges[w+1] {
			if n > 0 {
				last = sum / float64(n)
			}
			out[w], sum, n = last, 0, 0
			w++
		}
		if w == recentWindows {
			return
		}
		sum += r.y[k%recentCap]
		n++
	}
	for ; w < recentWindows; w++ {
		if n > 0 {
			last = sum / float64(n)
		}
		out[w], n = last, 0
	}
}
