package bustest

import (
	"strings"
	"testing"
)

// TestPlay plays back what a trace holds, and nothing else.
func TestPlay(t *testing.T) {
	const trace = "0.1 leavend bus recording 1\n" +
		"0.2 I2C1 0x29 w 010f r eacc\n0.3 I2C2 0x29 w 00 r -\n0.4 I2C1 0x44 w - r 6 ! sysfs-i2c: remote I/O error\n"
	p, err := Play(strings.NewReader(trace), "I2C1")
	if err != nil || p.Left() != 2 {
		t.Fatalf("%d transfers, %v", p.Left(), err)
	}
	r := make([]byte, 2)
	if err := p.Tx(0x29, []byte{0x01, 0x10}, r); err == nil || !strings.Contains(err.Error(), "transfer 0: 0x29 w 0110") {
		t.Errorf("a transfer that is not there: %v", err)
	}
	if err := p.Tx(0x29, []byte{0x01, 0x0f}, r); err != nil || r[0] != 0xEA || r[1] != 0xCC {
		t.Errorf("got % x, %v", r, err)
	}
	if err := p.Tx(0x44, nil, make([]byte, 6)); err == nil || err.Error() != NoAck().Error() {
		t.Errorf("got %v", err)
	}
	if err := p.Tx(0x44, nil, nil); err == nil || !strings.Contains(err.Error(), "the trace has ended") {
		t.Errorf("got %v", err)
	}
}
