package daemon

import (
	"errors"
	"strings"
	"testing"

	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/text"
)

// System status says of the history what cannot be read and what could not be stored.
func TestHistoryCheck(t *testing.T) {
	d := scheduledDaemon(t)
	bad := store.BadRow{Table: "entry", ID: 7, Why: errors.New("no JSON")}
	for _, tt := range []struct {
		name, language string
		stats          store.Stats
		state, want    string
	}{
		{"all is well", "en", store.Stats{}, "ok", "readings waiting to be saved: 0."},
		{"a row", "en", store.Stats{BadRows: 3, BadRow: bad}, "warn", "A row of the history cannot be read, and is left out: entry 7: no JSON."},
		{"an entry", "en", store.Stats{Unstorable: 1, Unstored: errors.New("no time")}, "warn", "1 entry could not be stored: no time."},
		{"in German", "de", store.Stats{BadRows: 3, BadRow: bad}, "warn", "nicht lesbar und wird ausgelassen: entry 7: no JSON."},
	} {
		out := status{reader: text.Reader{Language: tt.language}}
		d.historyStatus(tt.stats, &out)
		c := out.checks[0]
		if c.State != tt.state || !strings.HasSuffix(c.Says, tt.want) || (c.Do == "") != (tt.state == "ok") {
			t.Errorf("%s: %+v", tt.name, c)
		}
	}
}
