package vl53l0x

import (
	"hash/crc32"
	"testing"
)

// TestMakersTuning holds the 80 settings to those of ST's driver (STSW-IMG005,
// DefaultTuningSettings in vl53l0x_tuning.h): the CRC-32 (IEEE) of its registers
// and values, worked out from that file, stands for them.
func TestMakersTuning(t *testing.T) {
	var b []byte
	for _, set := range tuning {
		b = append(b, set[:]...)
	}
	if got := crc32.ChecksumIEEE(b); len(tuning) != 80 || got != 0x3C8D20A1 {
		t.Errorf("%d settings, checksum 0x%08x, want 80 and 0x3c8d20a1", len(tuning), got)
	}
}

// TestMakersTiming: a widely used driver, compiled and run on the emulator, keeps
// the maker's time of 33.823 ms and writes a final timeout of 0x0290 for it.
func TestMakersTiming(t *testing.T) {
	if got := finalTimeout(33_823); got != 0x0290 {
		t.Errorf("got 0x%04x, want 0x0290", got)
	}
}
