package backend

import (
	"testing"

	"leavend/cmd/leavend/internal/config"
	"leavend/control"
)

// TestEveryMatFaultSaysWhatToDo keeps a fault from reaching the page without
// its remedy, or with what happened and what to do in one lump.
func TestEveryMatFaultSaysWhatToDo(t *testing.T) {
	conf := &config.Config{}
	conf.Mat.CutoffVesselC, conf.Mat.CutoffMatC = 35, 45
	for _, kind := range control.FaultKinds() {
		f := matFault(control.Fault{Kind: kind, Latched: kind.Latched()}, control.State{VesselC: 33.4, VesselOK: true}, conf)
		if f.Text == "" || f.Do == "" || f.Text == f.TextSay.Key {
			t.Errorf("%s: %q, do %q", kind, f.Text, f.Do)
		}
		if !f.Holds || f.Why == "" {
			t.Errorf("%s holds %v, why %q; at 33.4 °C no cutoff of 35 °C may be acknowledged", kind, f.Holds, f.Why)
		}
		cool := matFault(control.Fault{Kind: kind, Latched: kind.Latched()}, control.State{VesselC: 25, VesselOK: true}, conf)
		if cool.Holds == kind.Latched() {
			t.Errorf("%s at 25 °C holds %v", kind, cool.Holds)
		}
	}
}
