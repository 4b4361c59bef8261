package heating

import (
	"slices"
	"strings"
	"testing"

	"leavend/cmd/leavend/internal/text"
)

// TestCautionsInEachLanguage wants every caution in the words of every language:
// who accepts them must be able to read them.
func TestCautionsInEachLanguage(t *testing.T) {
	english := CautionLines(text.Reader{})
	for _, code := range text.Languages() {
		lines := CautionLines(text.Reader{Language: code})
		if len(lines) != len(english) {
			t.Errorf("%s has %d cautions, want %d", code, len(lines), len(english))
		}
		for i, l := range lines {
			if !strings.HasSuffix(l, ".") || strings.HasPrefix(l, "caution.") {
				t.Errorf("%s: no sentence: %q", code, l)
			}
			if code != text.Fallback && slices.Contains(english, l) {
				t.Errorf("%s: caution %d is English: %q", code, i+1, l)
			}
		}
	}
}

// TestCautionText wants a terminal of 80 columns to show the whole list, with
// what no caution may lose in translation.
func TestCautionText(t *testing.T) {
	for code, want := range map[string][]string{
		"en": {"Before you let", "- leavend is a controller, not a safety device.", "IEC 60730", "thermal cut-out", "GFCI or RCD", "smoke alarm", "safe to eat"},
		"de": {"Bevor du", "- leavend ist ein Regler und keine Sicherheitseinrichtung.", "IEC 60730", "Temperaturbegrenzer", "FI, RCD", "Rauchmelder", "unbedenklich"},
	} {
		got := CautionText().In(text.Reader{Language: code})
		for _, w := range want {
			if !strings.Contains(got, w) {
				t.Errorf("%s: %q is not in\n%s", code, w, got)
			}
		}
		if n := strings.Count(got, "\n- "); n != len(Cautions()) {
			t.Errorf("%s: %d points, want %d", code, n, len(Cautions()))
		}
		for l := range strings.Lines(got) {
			if n := len([]rune(strings.TrimSuffix(l, "\n"))); n > 74 {
				t.Errorf("%s: a line of %d characters: %q", code, n, l)
			}
		}
	}
}
