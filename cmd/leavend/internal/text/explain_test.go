package text

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"testing"
)

// TestExplain puts an error into a reader's words wherever it was wrapped, and leaves as
// it is what has no sentence.
func TestExplain(t *testing.T) {
	removed := Fail("error.unknown")
	for _, tt := range []struct {
		name string
		err  error
		want string
	}{
		{"a sentence", removed, "Das gibt es nicht mehr."},
		{"wrapped", fmt.Errorf("mat off: %w (5s)", removed), "mat off: Das gibt es nicht mehr. (5s)"},
		{"twice", fmt.Errorf("web: %w", fmt.Errorf("open: %w", removed)), "web: open: Das gibt es nicht mehr."},
		{"several", errors.Join(removed, errors.New("EIO"), Fail("error.too_large")), "Das gibt es nicht mehr.\nEIO\nDiese Datei ist zu groß."},
		{"two of a kind", fmt.Errorf("%w: %w", removed, removed), "Das gibt es nicht mehr.: Das gibt es nicht mehr."},
		{"without one", fmt.Errorf("open x: %w", fs.ErrNotExist), "open x: file does not exist"},
		{"as a cause", Fail("push.failed", Cause("why", removed)), "Das ließ sich nicht ändern: Das gibt es nicht mehr.."},
	} {
		t.Run(tt.name, func(t *testing.T) {
			said := Explain(tt.err)
			if got := said.In(Reader{Language: "de"}); got != tt.want {
				t.Errorf("%q, want %q", got, tt.want)
			}
			if got := said.In(Reader{}); got != tt.err.Error() {
				t.Errorf("in English %q, and for the log %q", got, tt.err)
			}
			b, err := json.Marshal(said)
			if err != nil {
				t.Fatal(err)
			}
			var back Message
			if err := json.Unmarshal(b, &back); err != nil || back.In(Reader{Language: "de"}) != tt.want {
				t.Errorf("by way of %s: %q, %v", b, back.In(Reader{Language: "de"}), err)
			}
		})
	}
	if err := Fail("push.failed", Cause("why", fmt.Errorf("x: %w", fs.ErrExist))); !errors.Is(err, fs.ErrExist) {
		t.Errorf("%v has lost its cause", err)
	}
}
