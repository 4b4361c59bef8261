package store

import (
	"context"
	"database/sql"
	"fmt"
	"leavend/cmd/leavend/internal/store/dbfile"
	"slices"
	"time"
)

// MaxPoints is the most points a [Window] has.
const MaxPoints = 2000

// maxBuckets bounds the work for one window: a level is passed over when it has
// more buckets than this and the next one can still fill the points.
const maxBuckets = 30_000

// Window is one vessel's readings over a time, drawn together to a number of
// points a screen can show. No peak is lost: each point has its minimum and
// maximum.
type Window struct {
	Channels []Channel     // sorted
	Step     time.Duration // time one point covers
	Rollup   time.Duration // width of the rollups it was made from; 0 for readings at full rate
	Points   []Point       // in order of time; a time without readings has none
}

// Point sums up the readings of one step.
type Point struct {
	At    time.Time // of the first reading or bucket in it
	Stats []Stat    // one a channel, in the order of Window.Channels
}

// Stat sums up one channel over a point, in the channel's unit. N is 0, and
// the rest means nothing, where the channel had no reading.
type Stat struct {
	N              int
	Min, Max, Mean float64
}

// Since returns when a channel begins in the window: the time of its first
// reading, or, where it has none, a time after every point.
func (w Window) Since(c Channel) time.Time {
	i, ok := slices.BinarySearch(w.Channels, c)
	for _, p := range w.Points {
		if ok && p.Stats[i].N > 0 {
			return p.At
		}
	}
	return time.UnixMilli(1 << 52)
}

// Window returns a vessel's readings from from to to (exclusive), in at most
// maxPoints points; 0 or more than [MaxPoints] means MaxPoints. It reads full
// rate for windows of up to 33 h and rollups for longer ones, so the time it
// takes is bounded. A vessel without readings gives a window without points.
func (s *Readings) Window(ctx context.Context, vessel string, from, to time.Time, maxPoints int) (Window, error) {
	if !to.After(from) {
		return Window{}, fmt.Errorf("store: window: it ends at %s, not after its start %s", to.Format(time.RFC3339), from.Format(time.RFC3339))
	}
	if maxPoints <= 0 || maxPoints > MaxPoints {
		maxPoints = MaxPoints
	}
	v, err := s.look(ctx, vessel)
	if err != nil {
		return Window{}, err
	}
	defer v.close()
	level, err := v.level(ctx, from.UnixMilli(), to.UnixMilli())
	if err != nil {
		return Window{}, err
	}
	g := newGrid(from.UnixMilli(), to.UnixMilli(), maxPoints, width(level))
	if level < 0 {
		err = v.readings(ctx, g)
	} else {
		err = v.rollups(ctx, level, g)
	}
	if err != nil {
		return Window{}, fmt.Errorf("store: window of %s: %w", vessel, err)
	}
	w := g.window(v.channelName)
	w.Rollup = time.Duration(width(level)) * time.Millisecond
	return w, nil
}

// width returns a level's bucket width in ms; level -1 is full rate.
func width(level int) int64 {
	if level < 0 {
		return 0
	}
	return levels[level].width
}

// level picks the finest source that a window can be made from without too
// much to read: full rate, which is -1, for a day or so, where it is still
// kept, and else the first level that maxBuckets does not rule out.
func (v *view) level(ctx context.Context, from, to int64) (int, error) {
	if to-from <= MaxPoints*levels[0].width {
		whole, err := v.fullRate(ctx, from)
		if err != nil || whole {
			return -1, err
		}
	}
	for level, l := range levels[:len(levels)-1] {
		if (to-from)/l.width <= maxBuckets || (to-from)/levels[level+1].width < MaxPoints/2 {
			return level, nil
		}
	}
	return len(levels) - 1, nil
}

// fullRate reports whether no readings of the time since from were thinned:
// whether nothing in the rollups is older than the oldest block.
func (v *view) fullRate(ctx context.Context, from int64) (bool, error) {
	for _, c := range v.clocks {
		var thinned bool
		err := v.tx.QueryRowContext(ctx, `SELECT EXISTS (SELECT 1 FROM rollup WHERE vessel = ? AND level = 0 AND clock = ? AND t >= ?
			AND t + ? < ifnull((SELECT min(t) FROM block WHERE clock = ?), 9e18))`,
			v.vessel, c.id, from-c.shift-levels[0].span, levels[0].span, c.id).Scan(&thinned)
		if err != nil || thinned {
			return false, err
		}
	}
	return true, nil
}

// readings fills g from readings at full rate.
func (v *view) readings(ctx context.Context, g *grid) error {
	for _, c := range v.clocks {
		err := blockSamples(ctx, v.tx, v.vessel, c.id, g.from-c.shift, g.to-c.shift, func(s sample) bool {
			g.add(s.t+c.shift, stat{s.channel, 1, s.v, s.v, s.v})
			return true
		})
		if err != nil {
			return err
		}
	}
	v.addWaiting(g)
	return nil
}

// rollups fills g from one level, stored and open.
func (v *view) rollups(ctx context.Context, level int, g *grid) error {
	l := levels[level]
	for _, c := range v.clocks {
		add := func(t int64, stats []stat) { g.addBucket(t+c.shift, l.width, stats) }
		var data sql.RawBytes // no copy
		err := dbfile.Each(ctx, v.tx, func(row *sql.Rows) error {
			var start int64
			if row.Scan(&start, &data) == nil { // else a bit of the row has changed; Verify tells
				decodePage(start, l, data, add) // what a damaged page still tells is better than nothing
			}
			return nil
		}, `SELECT t, data FROM rollup WHERE vessel = ? AND level = ? AND clock = ? AND t >= ? AND t < ?`,
			v.vessel, level, c.id, g.from-c.shift-l.span, g.to-c.shift)
		if err != nil {
			return err
		}
	}
	if p := v.open[level]; p != nil {
		for _, b := range p.buckets {
			g.addBucket(b.t+v.running.shift, l.width, b.stats)
		}
	}
	v.addWaiting(g)
	return nil
}

// addWaiting adds what is not yet committed.
func (v *view) addWaiting(g *grid) {
	ids := map[Channel]int64{}
	for id, name := range v.channels {
		ids[name] = id
	}
	for _, a := range v.waiting {
		id, ok := ids[a.channel]
		if !ok { // a channel so new that the file does not know it
			id = -int64(len(ids)) - 1
			ids[a.channel] = id
			v.channels[id] = a.channel
		}
		g.add(a.t+v.running.shift, stat{id, 1, a.v, a.v, a.v})
	}
}

// grid gathers stats into the points of a window.
type grid struct {
	from, to int64
	origin   int64 // start of the first point, at or before from
	step     int64
	points   []gridPoint
}

type gridPoint struct {
	at    int64 // of the first stat
	stats []stat
}

// newGrid lays steps over a window so that at most n touch it, wherever it
// starts. Steps are whole seconds, whole minutes or whole buckets and stand on
// a fixed raster, so that a window drawn again a minute later shows the same
// points. A single point starts at from.
func newGrid(from, to int64, n int, width int64) *grid {
	if n == 1 {
		return &grid{from: from, to: to, origin: from, step: to - from, points: make([]gridPoint, 1)}
	}
	step := (to - from + int64(n) - 2) / int64(n-1)
	if width == 0 && step > minuteMS {
		width = minuteMS
	}
	width = max(width, 1000)
	step = floor(step+width-1, width)
	origin := floor(from, step)
	return &grid{from: from, to: to, origin: origin, step: step, points: make([]gridPoint, (to-1-origin)/step+1)}
}

// addBucket adds a bucket of a rollup. One that the window's start cuts
// through counts as a whole: better a peak from just before than one lost.
func (g *grid) addBucket(at, width int64, stats []stat) {
	if at < g.from && at+width > g.from {
		at = g.from
	}
	if p := g.point(at); p != nil {
		for _, s := range stats {
			p.add(s)
		}
	}
}

// add adds one stat.
func (g *grid) add(at int64, s stat) {
	if p := g.point(at); p != nil {
		p.add(s)
	}
}

// point returns the point of a time, or nil outside of the window.
func (g *grid) point(at int64) *gridPoint {
	if at < g.from || at >= g.to {
		return nil
	}
	p := &g.points[(at-g.origin)/g.step]
	if len(p.stats) == 0 || at < p.at {
		p.at = at
	}
	return p
}

func (p *gridPoint) add(s stat) {
	for i := range p.stats {
		if p.stats[i].channel == s.channel {
			p.stats[i].add(s)
			return
		}
	}
	if p.stats == nil {
		p.stats = make([]stat, 0, 4) // as many as a usual vessel has
	}
	p.stats = append(p.stats, s)
}

// window turns what was gathered into units and names.
func (g *grid) window(name func(int64) Channel) Window {
	w := Window{Step: time.Duration(g.step) * time.Millisecond}
	seen := map[int64]bool{}
	for _, p := range g.points {
		for _, s := range p.stats {
			seen[s.channel] = true
		}
	}
	for id := range seen {
		w.Channels = append(w.Channels, name(id))
	}
	slices.Sort(w.Channels)
	place := map[int64]int{}
	for id := range seen {
		place[id], _ = slices.BinarySearch(w.Channels, name(id))
	}
	for _, p := range g.points {
		if len(p.stats) == 0 {
			continue
		}
		point := Point{At: time.UnixMilli(p.at).UTC(), Stats: make([]Stat, len(w.Channels))}
		for _, s := range p.stats {
			point.Stats[place[s.channel]] = Stat{
				N: int(s.n), Min: value(s.min), Max: value(s.max), Mean: value(s.sum) / float64(s.n),
			}
		}
		w.Points = append(w.Points, point)
	}
	return w
}
