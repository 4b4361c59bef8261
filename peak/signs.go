package peak

import "math"

// signs are what can be told of the curve at one moment, as numbers without
// units and of size one, so that a slow small jar and a quick big one look
// the same. The call and the forecast are made from them.
type signs [signCount]float64

const signCount = 46

// signSpeed is the place of the bank's speed over its deviation.
const signSpeed = 2 * len(signTracks)

// signTracks are the tracks of the bank whose speed is a sign of its own.
var signTracks = [...]int{1, 2, 3, 5, 6, 7}

// signLevels are shares of the present rise whose times are signs.
var signLevels = [...]float64{0.1, 0.25, 0.4, 0.55, 0.7, 0.85, 0.95}

// read fills the signs from the detector's state after a bin.
func (s *signs) read(d *Detector) {
	b, f := &d.trend, &d.feed
	h, _ := b.at(0)
	rise := max(h-f.base, 1)
	most := max(f.high-f.base, rise)
	hours := max(d.trendAt-f.at, 0.1)
	tol := max(1, 0.02*most)
	perHour := most / hours // the mean speed so far, the natural unit of speed
	i := 0
	put := func(v, scale, limit float64) {
		if v != v {
			v = 0
		}
		s[i] = min(max(v/scale, -limit), limit)
		i++
	}
	for _, k := range signTracks {
		t := &b.tracks[k]
		put(t.x[1]/math.Sqrt(t.p[3]+1e-9), 3, 3)
		put(math.Asinh(t.x[1]/perHour*2), 1, 4)
	}
	v, sd := b.speed()
	put(v/(sd+1e-9), 3, 3)
	put(math.Asinh(v/perHour*2), 1, 4)
	put(math.Log(sd/perHour), 1.5, 3)
	put(b.tracks[6].w+b.tracks[7].w, 1, 1)
	put(b.tracks[3].w+b.tracks[5].w, 1, 1)
	put(math.Asinh(b.tracks[2].x[2]*hours*hours/most), 1.5, 3)
	put((f.high-h)/tol, 2, 4)
	put((f.high-h)/math.Sqrt(d.noise.ofBin(int(d.noise.perBin+0.5))), 5, 4)
	put((d.trendAt-f.highAt)/hours, 0.1, 3)
	put(math.Log(math.Sqrt(d.noise.ofBin(int(d.noise.perBin+0.5)))/tol), 1, 4)
	put(math.Log(most/50), 0.5, 4)
	put(math.Log(max(d.warmth.hours, 0.1)/6), 0.5, 4)
	put(math.Log(hours/6), 0.5, 4)
	put(math.Log(pace(d.warmth.tempC)*hours/max(d.warmth.hours, 0.1)), 0.2, 3)
	put(d.warmth.trend(), 0.5, 3)
	put(v/max(f.fastest, 0.1), 0.5, 3)
	put((d.trendAt-f.fastestAt)/hours, 0.3, 3)
	var levels, at [len(signLevels)]float64
	for k, share := range signLevels {
		levels[k] = share * most
	}
	d.path.crossings(levels[:], at[:])
	for k := range at {
		put(1-at[k]/max(d.warmth.hours, 0.1), 0.3, 4)
	}
	since := d.trendAt - f.at
	for _, back := range [...]float64{0.25, 0.5, 1, 2} {
		put((h-f.base-d.path.riseAt(since-back))/most/min(back, hours)*hours, 1, 4)
	}
	put(math.Log(max(d.trend.tracks[1].p[3], 1e-6))/2-math.Log(perHour), 2, 3)
	k := d.kink.found
	put(k.score, 4, 3)
	put(k.speed/(k.sd+1e-9), 3, 3)
	put(math.Asinh(k.speed/perHour*2), 1, 4)
	put(k.hours, 0.25, 2)
	put(-k.speed*k.hours/tol, 1, 4)
}
