package store

import (
	"encoding/binary"
	"errors"
	"fmt"
)

// maxBlockMS is the longest time one block covers. A query for a time range
// looks this much further back to find blocks that reach into it.
const maxBlockMS = 5 * 60 * 1000

var errShort = errors.New("data ends too early")

// encodeBlock writes samples, which share a vessel and a clock and are in
// order of t, as differences from t0 on: time since the sample before,
// channel, and value since the channel's value before.
func encodeBlock(t0 int64, samples []sample) []byte {
	data := make([]byte, 0, 6*len(samples))
	last := map[int64]int64{}
	t := t0
	for _, s := range samples {
		data = binary.AppendUvarint(data, uint64(s.t-t))
		data = binary.AppendUvarint(data, uint64(s.channel))
		data = binary.AppendVarint(data, s.v-last[s.channel])
		t, last[s.channel] = s.t, s.v
	}
	return data
}

// decodeBlock reads what encodeBlock wrote and hands each sample to yield
// until that returns false. It survives any bytes: a block from a damaged
// file yields what can be read and an error.
func decodeBlock(t0 int64, data []byte, yield func(sample) bool) error {
	var last lasts
	t := t0
	r := varints{data: data}
	for len(r.data) > 0 {
		dt, ch, dv := r.unsigned(), r.unsigned(), r.signed()
		if r.err != nil || dt > maxBlockMS || ch > maxChannels {
			return fmt.Errorf("block at %d: %w", t0, errors.Join(r.err, errRange(dt, ch)))
		}
		t += int64(dt)
		v := last.of(int64(ch)) + dv
		last.set(int64(ch), v)
		if !yield(sample{channel: int64(ch), t: t, v: v}) {
			return nil
		}
	}
	return nil
}

// lasts remembers each channel's last value. The usual few channels need no
// map, which would be most of the work of reading.
type lasts struct {
	few  [32]int64
	rest map[int64]int64
}

func (m *lasts) of(channel int64) int64 {
	if channel < int64(len(m.few)) {
		return m.few[channel]
	}
	return m.rest[channel]
}

func (m *lasts) set(channel, v int64) {
	if channel < int64(len(m.few)) {
		m.few[channel] = v
		return
	}
	if m.rest == nil {
		m.rest = map[int64]int64{}
	}
	m.rest[channel] = v
}

// maxChannels bounds channel ids, so that nonsense is found out.
const maxChannels = 1 << 20

func errRange(dt, ch uint64) error {
	if dt > maxBlockMS || ch > maxChannels {
		return fmt.Errorf("step of %d ms on channel %d is out of range", dt, ch)
	}
	return nil
}

// varints reads numbers off the front of data and remembers the first error.
// Most numbers are of one byte, which is worth a path that can be inlined.
type varints struct {
	data []byte
	err  error
}

func (r *varints) unsigned() uint64 {
	if len(r.data) > 0 && r.data[0] < 0x80 {
		v := uint64(r.data[0])
		r.data = r.data[1:]
		return v
	}
	return r.long()
}

func (r *varints) long() uint64 {
	v, n := binary.Uvarint(r.data)
	if n <= 0 {
		r.err, r.data = errShort, nil
		return 0
	}
	r.data = r.data[n:]
	return v
}

// signed undoes the zigzag of binary.AppendVarint.
func (r *varints) signed() int64 {
	u := r.unsigned()
	return int64(u>>1) ^ -int64(u&1)
}
