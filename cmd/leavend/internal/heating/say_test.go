package heating

import (
	"strings"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/text"
	"leavend/control"
)

// TestEveryReasonHasASentence asks for all that the thermostat and its guard
// can say, in every language.
func TestEveryReasonHasASentence(t *testing.T) {
	var all []text.Message
	for _, r := range control.Reasons() {
		all = append(all, Why(control.State{Reason: r}))
	}
	for _, k := range control.FaultKinds() {
		what, do := FaultText(k)
		all = append(all, what, do)
	}
	all = append(all, Why(control.State{Unreachable: true, ExpectC: 21}), Why(control.State{FreeAt: time.Unix(0, 0)}), StillHot(true, 44, 40), StillHot(false, 34, 32))
	for _, code := range text.Languages() {
		for _, m := range all {
			if got := m.In(text.Reader{Language: code}); got == m.Key || strings.Contains(got, "{") {
				t.Errorf("%s: %s says %q", code, m.Key, got)
			}
		}
	}
}
