package w1test

import (
	"testing"
	"testing/synctest"
	"time"
)

// bench is a bridge with two probes.
func bench() (*Bridge, [2]*Probe) {
	p := [2]*Probe{NewProbe([6]byte{1, 2, 3, 4, 5, 6}, 23.5), NewProbe([6]byte{1, 2, 3, 4, 5, 7}, -10.125)}
	return NewBridge(p[0], p[1]), p
}

func (b *Bridge) order(bytes ...byte) { b.Tx(bytes, nil) }

// ask selects a probe, sends a command and reads n bytes.
func (b *Bridge) ask(p *Probe, command byte, n int) (out []byte) {
	b.order(0xB4)
	for _, v := range append(append([]byte{0x55}, p.rom[:]...), command) {
		b.order(0xA5, v)
	}
	for range n {
		var r [1]byte
		b.order(0x96)
		b.order(0xE1, atData)
		b.Tx(nil, r[:])
		out = append(out, r[0])
	}
	return out
}

// TestSearch finds both numbers by triplets, as the data sheet's flow chart of
// the search does; and the checksum is that of application note 27's example 2.
func TestSearch(t *testing.T) {
	if got := crc8([]byte{0x02, 0x1C, 0xB8, 0x01, 0, 0, 0}); got != 0xA2 {
		t.Errorf("checksum 0x%02x, want 0xa2", got)
	}
	b, probes := bench()
	for _, way := range []byte{0, 0x80} {
		b.order(0xB4)
		b.order(0xA5, 0xF0)
		var rom [8]byte
		for i := range 64 {
			b.order(0x78, way)
			rom[i/8] |= b.status >> 7 << (i % 8)
		}
		if want := probes[way>>7].rom; rom != want {
			t.Errorf("going %d: % x, want % x", way>>7, rom, want)
		}
	}
}

// TestConversion takes its 750 ms, and gives the registers of the data sheet's
// table 1; one that is not heard leaves what was there.
func TestConversion(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b, p := bench()
		if pad := b.ask(p[0], 0xBE, 9); pad[0] != 0x50 || pad[1] != 0x05 || crc8(pad[:8]) != pad[8] {
			t.Errorf("after power-on: % x", pad)
		}
		if busy := b.ask(p[1], 0x44, 1); busy[0] != 0 {
			t.Errorf("while it converts a slot reads 0x%02x", busy[0])
		}
		time.Sleep(750 * time.Millisecond)
		if pad := b.ask(p[1], 0xBE, 9); pad[0] != 0x5E || pad[1] != 0xFF || crc8(pad[:8]) != pad[8] {
			t.Errorf("-10.125 °C: % x", pad)
		}
		p[1].Warm(30)
		p[1].Deaf(true)
		b.ask(p[1], 0x44, 0)
		time.Sleep(time.Second)
		if pad := b.ask(p[1], 0xBE, 9); pad[0] != 0x5E || pad[1] != 0xFF {
			t.Errorf("a conversion that was not heard: % x", pad)
		}
	})
}
