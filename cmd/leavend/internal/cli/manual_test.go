package cli

import (
	"bytes"
	"os/exec"
	"strings"
	"testing"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/failure"
)

// manPage prints a page as `leavend manual` does.
func manPage(t *testing.T, name string) string {
	t.Helper()
	var out, errs bytes.Buffer
	if code := Execute(t.Context(), []string{"manual", name}, &out, &errs); code != failure.Done {
		t.Fatalf("manual %s: exit %d\n%s", name, code, errs.String())
	}
	return out.String()
}

// Every command a user can give stands in leavend(1), and every line of the
// reference in leavend.toml(5).
func TestManualIsWhole(t *testing.T) {
	page := manPage(t, "leavend")
	for _, c := range newRoot().Commands() {
		if has := strings.Contains(page, ".SS "+c.Name()); !c.Hidden && !c.HasSubCommands() && !has {
			t.Errorf("leavend(1) lacks %q", c.Name())
		}
	}
	for _, want := range []string{".SS mat off", ".SS notify test", `class A`, `\-\-test\-mat`} {
		if !strings.Contains(page, want) {
			t.Errorf("leavend(1) lacks %q", want)
		}
	}
	page = manPage(t, "leavend.toml")
	for line := range strings.Lines(config.Reference()) {
		if !strings.Contains(page, escape(strings.TrimSuffix(line, "\n"))) {
			t.Errorf("leavend.toml(5) lacks %q", line)
		}
	}
}

// The formatter itself has nothing to complain of.
func TestManualFormats(t *testing.T) {
	groff, err := exec.LookPath("groff")
	if err != nil {
		t.Skip("groff is not here (Debian package groff-base)")
	}
	format := func(page string) (text, complaints string) {
		cmd := exec.Command(groff, "-man", "-Tutf8", "-Kutf8", "-ww", "-rLL=100n")
		cmd.Stdin = strings.NewReader(page)
		var out, errs bytes.Buffer
		cmd.Stdout, cmd.Stderr = &out, &errs
		if err := cmd.Run(); err != nil {
			t.Fatal(err)
		}
		return out.String(), errs.String()
	}
	for _, name := range []string{"leavend", "leavend.toml"} {
		text, complaints := format(manPage(t, name))
		if complaints != "" {
			t.Errorf("%s: groff says:\n%s", name, complaints)
		}
		if len(text) < 2000 {
			t.Errorf("%s: the page is only %d bytes long", name, len(text))
		}
	}
	if _, complaints := format(".TH X 1\n.SH NAME\n.nosuch\n"); complaints == "" {
		t.Error("groff did not notice a planted mistake, so it proves nothing")
	}
}
