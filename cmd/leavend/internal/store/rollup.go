package store

import (
	"encoding/binary"
	"errors"
	"fmt"
	"slices"
	"sort"
)

// level is one step of thinning: buckets of width ms, and pages of span ms
// that hold them. Spans are whole multiples of widths.
type level struct{ width, span int64 }

const (
	minuteMS = 60 * 1000
	hourMS   = 60 * minuteMS
	dayMS    = 24 * hourMS
)

// levels are all levels, finest first. Their order is stored: never change it.
var levels = [...]level{
	{minuteMS, hourMS},
	{15 * minuteMS, dayMS},
	{dayMS, dayMS},
}

// stat sums up one channel over a bucket, in quanta.
type stat struct {
	channel  int64
	n        int64
	min, max int64
	sum      int64
}

func (s *stat) add(o stat) {
	if o.n == 0 {
		return
	}
	if s.n == 0 {
		*s = o
		return
	}
	s.min, s.max = min(s.min, o.min), max(s.max, o.max)
	s.n, s.sum = s.n+o.n, s.sum+o.sum
}

// bucket is one width of a level with the channels that had readings in it.
type bucket struct {
	t     int64 // its start
	stats []stat
}

// add merges one stat into the bucket.
func (b *bucket) add(s stat) {
	for i := range b.stats {
		if b.stats[i].channel == s.channel {
			b.stats[i].add(s)
			return
		}
	}
	b.stats = append(b.stats, s)
}

// page is one stored row of a level: the buckets of one span, in order.
type page struct {
	start   int64
	buckets []bucket
}

// floor rounds t down to a multiple of width, also below zero.
func floor(t, width int64) int64 {
	q := t / width
	if t%width < 0 {
		q--
	}
	return q * width
}

// add puts one stat into the bucket of width that t falls into.
func (p *page) add(t, width int64, s stat) {
	at := floor(t, width)
	if n := len(p.buckets); n > 0 && p.buckets[n-1].t == at {
		p.buckets[n-1].add(s) // nearly always the newest
		return
	}
	i := sort.Search(len(p.buckets), func(i int) bool { return p.buckets[i].t >= at })
	if i == len(p.buckets) || p.buckets[i].t != at {
		p.buckets = slices.Insert(p.buckets, i, bucket{t: at})
	}
	p.buckets[i].add(s)
}

// clone returns a copy that shares nothing with p.
func (p *page) clone() *page {
	c := &page{start: p.start, buckets: slices.Clone(p.buckets)}
	for i := range c.buckets {
		c.buckets[i].stats = slices.Clone(c.buckets[i].stats)
	}
	return c
}

// encode writes the page's buckets. Minima are written as differences from
// the same channel's minimum before, which are small.
func (p *page) encode(width int64) []byte {
	var data []byte
	last := map[int64]int64{}
	at := p.start
	for _, b := range p.buckets {
		data = binary.AppendUvarint(data, uint64((b.t-at)/width))
		data = binary.AppendUvarint(data, uint64(len(b.stats)))
		at = b.t
		for _, s := range b.stats {
			data = binary.AppendUvarint(data, uint64(s.channel))
			data = binary.AppendUvarint(data, uint64(s.n))
			data = binary.AppendVarint(data, s.min-last[s.channel])
			data = binary.AppendUvarint(data, uint64(s.max-s.min))
			data = binary.AppendUvarint(data, uint64(s.sum-s.n*s.min))
			last[s.channel] = s.min
		}
	}
	return data
}

// decodePage reads what encode wrote and hands each bucket to yield, which must
// not keep its stats. It survives any bytes.
func decodePage(start int64, l level, data []byte, yield func(t int64, stats []stat)) error {
	var last lasts
	var stats []stat
	at := start
	r := varints{data: data}
	for len(r.data) > 0 {
		step, n := r.unsigned(), r.unsigned()
		if step > uint64(l.span/l.width) || n > uint64(len(r.data)) {
			return fmt.Errorf("rollup at %d: %w", start, errors.New("bucket out of range"))
		}
		at += int64(step) * l.width
		stats = stats[:0]
		for range n {
			s := stat{channel: int64(r.unsigned() & (maxChannels - 1)), n: int64(r.unsigned())}
			s.min = last.of(s.channel) + r.signed()
			s.max = s.min + int64(r.unsigned())
			s.sum = int64(r.unsigned()) + s.n*s.min
			last.set(s.channel, s.min)
			stats = append(stats, s)
		}
		if r.err != nil {
			return fmt.Errorf("rollup at %d: %w", start, r.err)
		}
		yield(at, stats)
	}
	return r.err
}

// readPage decodes a stored page into memory.
func readPage(start int64, l level, data []byte) (*page, error) {
	p := &page{start: start}
	err := decodePage(start, l, data, func(t int64, stats []stat) {
		p.buckets = append(p.buckets, bucket{t, slices.Clone(stats)})
	})
	return p, err
}
