package planning

import (
	"errors"
	"strings"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/text"
)

// A mistake in what is asked is told in the reader's own language.
func TestMistakesInTheReadersLanguage(t *testing.T) {
	k := newKitchen(t, leavendtest.ThursdayEvening, "")
	at := func(d time.Duration) time.Time { return leavendtest.ThursdayEvening.Add(d) }
	weekly := func(w Weekly) error { return k.SetWeekly(t.Context(), w) }
	offer := func(a Ask) error {
		_, err := k.Offer(t.Context(), a)
		return err
	}
	for _, tt := range []struct {
		name       string
		err        error
		want, wort string
	}{
		{"an hour that is past", offer(Ask{Ready: at(-time.Hour)}), "That hour has passed. Choose a later one.", "vorbei"},
		{"an hour too far away", offer(Ask{Ready: at(20 * 24 * time.Hour)}), "That is more than 10 days away. Plan it later.", "mehr als 10 Tage"},
		{"no such recipe", offer(Ask{Ready: at(48 * time.Hour), Recipe: "baguette"}), "There is no recipe “baguette”; there are pan loaf,", "Ein Rezept „baguette“"},
		{"no such jar", offer(Ask{Ready: at(48 * time.Hour), Vessel: "attic"}), "There is no jar “attic” in the configuration.", "Ein Glas „attic“"},
		{"a levain in no jar", offer(Ask{Ready: at(48 * time.Hour), Levain: "attic"}), "“attic” is not one.", "„attic“ ist keines"},
		{"every week at no time", weekly(Weekly{Days: []string{"sat"}, At: "noon"}), "“noon” is no time of day.", "keine Uhrzeit"},
		{"every week on no day", weekly(Weekly{Days: []string{"someday"}, At: "09:00"}), "“someday” is no day of the week.", "kein Wochentag"},
	} {
		var refusal *failure.Refusal
		if !errors.As(tt.err, &refusal) {
			t.Errorf("%s: %v, want a refusal", tt.name, tt.err)
			continue
		}
		if got := refusal.Error(); !strings.Contains(got, tt.want) {
			t.Errorf("%s: %q, want %q", tt.name, got, tt.want)
		}
		if got := refusal.Say.In(text.Reader{Language: "de"}); !strings.Contains(got, tt.wort) {
			t.Errorf("%s: %q, want %q", tt.name, got, tt.wort)
		}
	}
}
