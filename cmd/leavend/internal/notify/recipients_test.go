package notify

import (
	"fmt"
	"path/filepath"
	"slices"
	"testing"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/config/configtest"
	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/store"
)

// TestBrowserRecipient has browsers told by the config's defaults, and by a
// [[notify]] of their own where there is one; and not at all while none asked.
func TestBrowserRecipient(t *testing.T) {
	s, _, err := store.Open(t.Context(), filepath.Join(t.TempDir(), "x.db"), store.Opts{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	devices, err := OpenDevices(t.Context(), s.States, filepath.Join(t.TempDir(), PushKeyFile), "https://board.example")
	if err != nil {
		t.Fatal(err)
	}
	tests := []struct {
		name, text string
		kinds      int
	}{
		{"by default", "", len(config.NoticeKinds())},
		{"as the config says", fmt.Sprintf("[[notify]]\nname = %q\nurl = %q\nkinds = [\"top\", \"mat-fault\"]\n", Browsers, PushAddress), 2},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			conf := configtest.Parse(t, leavendtest.JarConfig(t.TempDir())+"[[notify]]\nname = \"phone\"\nurl = \"ntfy://phone.example/x\"\n"+tt.text)
			people := browserRecipient(devices, Recipients(conf))
			i := slices.IndexFunc(people, func(r Recipient) bool { return r.Name == Browsers })
			if len(people) != 2 || i < 0 || len(people[i].Kinds) != tt.kinds {
				t.Fatalf("recipients %+v", people)
			}
			if address, _, err := people[i].Address(); err != nil || address != PushAddress || people[i].Wanted() {
				t.Errorf("address %q, %v, wanted %v; no browser has asked", address, err, people[i].Wanted())
			}
		})
	}
}
