package cli

import (
	"os"
	"regexp"
	"strings"
	"testing"

	"leavend/cmd/leavend/internal/heating"
	"leavend/cmd/leavend/internal/text"
)

// readme returns the project's first page.
func readme(t *testing.T) string {
	t.Helper()
	b, err := os.ReadFile("../../../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// TestReadmeCautions holds the README to the cautions that the program shows.
func TestReadmeCautions(t *testing.T) {
	_, list, _ := strings.Cut(heating.CautionText().In(text.Reader{}), "\n")
	if !strings.Contains(readme(t), "<!-- cautions -->\n"+list+"\n<!-- /cautions -->") {
		t.Error("README.md does not carry the cautions of the catalogue, word for word")
	}
}

// TestReadmeCommands holds the README's table of commands to the program's.
func TestReadmeCommands(t *testing.T) {
	page := readme(t)
	told := map[string]bool{"completion": true, "help": true} // cobra's own
	for _, m := range regexp.MustCompile("(?m)^\\| (`[^|]+) \\|").FindAllStringSubmatch(page, -1) {
		for _, name := range regexp.MustCompile("`([a-z ]+)`").FindAllStringSubmatch(m[1], -1) {
			words := strings.Fields(name[1])
			told[words[0]] = true
			if found, _, err := newRoot().Find(words); err != nil || found.Name() != words[len(words)-1] {
				t.Errorf("README.md tells of a command %q, which there is not", name[1])
			}
		}
	}
	for _, c := range newRoot().Commands() {
		if !told[c.Name()] && !c.Hidden {
			t.Errorf("README.md does not tell of the command %q", c.Name())
		}
	}
	if n := len(regexp.MustCompile(`(?m)^    go test .*$`).FindAllString(page, -1)); n != 1 {
		t.Errorf("README.md has %d test commands, want 1", n)
	}
}
