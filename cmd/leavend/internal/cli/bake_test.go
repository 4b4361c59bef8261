package cli

import (
	"fmt"
	"strings"
	"testing"

	"leavend/cmd/leavend/internal/config/configtest"
	"leavend/cmd/leavend/internal/leavendtest"
)

// TestBakeNotesALoaf notes a loaf with a daemon that runs, and is refused what no loaf is.
func TestBakeNotesALoaf(t *testing.T) {
	file := configtest.Write(t, fmt.Sprintf("data_dir = %q\n[[sensor]]\nname = \"eye\"\nchip = \"vl53l1x\"\n[[vessel]]\nname = \"Bramble\"\ndistance = \"eye\"\n", t.TempDir())+leavendtest.NoNetwork)
	leavendtest.Start(t, program("run", "--config", file))
	bake := func(args ...string) (string, error) {
		out, err := program(append([]string{"bake", "--config", file}, args...)...).CombinedOutput()
		return string(out), err
	}
	leavendtest.Eventually(t, "a loaf is noted", func() bool {
		out, err := bake("--stars", "4", "--crumb", "open,caves", "--core", "97", "--weight", "820")
		return err == nil && strings.Contains(out, "The loaf is noted.")
	})
	for flag, value := range map[string]string{"--stars": "6", "--crumb": "fluffy", "--core": "300", "--vessel": "Walnut"} {
		if out, err := bake(flag, value); err == nil || !strings.Contains(out, "leavend: bake: ") {
			t.Errorf("%s %s: %v, %s", flag, value, err, out)
		}
	}
}
