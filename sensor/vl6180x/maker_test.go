package vl6180x

import (
	"hash/crc32"
	"testing"
)

// TestMakersRegisters holds the 30 private registers of AN4545 to those that a
// widely used driver writes, in its order: the CRC-32 (IEEE) of registers, two
// bytes each, and values, worked out from that driver, stands for them.
func TestMakersRegisters(t *testing.T) {
	var b []byte
	for _, s := range startValues[:30] {
		b = append(b, byte(s.reg>>8), byte(s.reg), s.v)
	}
	if got := crc32.ChecksumIEEE(b); got != 0x2038DFE7 {
		t.Errorf("checksum 0x%08x, want 0x2038dfe7", got)
	}
}
