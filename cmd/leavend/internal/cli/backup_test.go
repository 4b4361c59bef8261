package cli

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"leavend/cmd/leavend/internal/failure"
)

// TestStoreCommands takes a recording through import, export and backup, as a
// baker would who moves to another board.
func TestStoreCommands(t *testing.T) {
	dir := t.TempDir()
	in := filepath.Join(dir, "in.csv")
	const recording = "time,distance_mm,temperature_c,note\n" +
		"2025-01-02T07:25:49Z,139,26.9375,fed\n" +
		"2025-01-02T07:26:04Z,138,26.8125,\n" +
		"2025-01-02T07:26:19Z,oops,26.8125,\n" +
		"2025-01-02T07:26:34Z,,26.875,\n"
	if err := os.WriteFile(in, []byte(recording), 0o644); err != nil {
		t.Fatal(err)
	}
	db := filepath.Join(dir, "leavend.db")

	out, errs, code := runLine(t, "import", "--store", db, "--vessel", "Bramble", in)
	if code != failure.Done || !strings.Contains(out, "3 rows read, 5 readings and 1 feeds taken in; 1 bad rows") || !strings.Contains(errs, "line 4: distance_mm") {
		t.Fatalf("import: %d\n%s%s", code, out, errs)
	}
	_, errs, code = runLine(t, "import", "--store", db, "--vessel", "Bramble", in)
	if code != failure.Failed || !strings.Contains(errs, "imported before") {
		t.Errorf("second import: %d %s", code, errs)
	}
	copied := filepath.Join(dir, "copy.db")
	if _, errs, code = runLine(t, "backup", "--store", db, copied); code != failure.Done {
		t.Fatalf("backup: %d %s", code, errs)
	}
	if out, errs, code = runLine(t, "restore", "--store", db, copied); code != failure.Done || !strings.Contains(out, "leavend.db.before-") {
		t.Fatalf("restore: %d %s%s", code, out, errs)
	}
	out, errs, code = runLine(t, "export", "--store", db)
	want := "time,distance_mm,temperature_c,note,mat,surface_mm,mean_of\n" +
		"2025-01-02T07:25:49Z,,,fed,,,\n" +
		"2025-01-02T07:25:49Z,139,26.9375,,,139,\n" +
		"2025-01-02T07:26:04Z,138,26.8125,,,138,\n" +
		"2025-01-02T07:26:34Z,,26.875,,,,\n"
	if code != failure.Done || out != want {
		t.Errorf("export: %d %s\n%s", code, errs, out)
	}
	file := filepath.Join(dir, "journal.json")
	if _, errs, code = runLine(t, "export", "--store", copied, "--json", "-o", file); code != failure.Done {
		t.Errorf("export --json: %d %s", code, errs)
	}
	if text, err := os.ReadFile(file); err != nil || !bytes.Contains(text, []byte(`"source":"marked"`)) {
		t.Errorf("journal: %v\n%s", err, text)
	}
}

func TestStoreCommandsRefuse(t *testing.T) {
	dir := t.TempDir()
	text := filepath.Join(dir, "notes.txt")
	os.WriteFile(text, []byte("flour: 500 g, bake on Sunday\n"), 0o644)
	db := filepath.Join(dir, "leavend.db")
	tests := []struct {
		name string
		args []string
		code int
		want string
	}{
		{"no store", []string{"backup", "--store", db, filepath.Join(dir, "b")}, failure.Failed, "there is no history at"},
		{"a text as store", []string{"backup", "--store", text, filepath.Join(dir, "b")}, failure.Failed, "notes.txt"},
		{"a text as backup", []string{"restore", "--store", db, text}, failure.Failed, "notes.txt"},
		{"a text as recording", []string{"import", "--store", db, "--vessel", "Pilot", text}, failure.Failed, "no recording"},
		{"no vessel", []string{"import", "--store", db, text}, failure.Usage, "vessel"},
		{"nothing to export", []string{"export", "--store", db}, failure.Failed, "no readings"},
		{"odd date", []string{"export", "--store", db, "--from", "Sunday"}, failure.Usage, "--from"},
		{"backwards", []string{"export", "--store", db, "--from", "2027-01-02", "--to", "2027-01-01"}, failure.Usage, "--to"},
		{"no config", []string{"export", "--config", filepath.Join(dir, "none.toml")}, failure.Usage, "none.toml"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, errs, code := runLine(t, tt.args...)
			if code != tt.code || !strings.Contains(errs, tt.want) {
				t.Errorf("exit %d, want %d with %q: %s", code, tt.code, tt.want, errs)
			}
		})
	}
	if text, _ := os.ReadFile(text); string(text) != "flour: 500 g, bake on Sunday\n" {
		t.Errorf("the text was changed: %q", text)
	}
}
