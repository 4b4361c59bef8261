package daemon

import (
	"os"
	"strings"
	"testing"

	"leavend/cmd/leavend/internal/config"
)

// TestHousehold changes what is watched in the config's own file and has the daemon
// start again with it; what cannot be done says why and changes nothing.
func TestHousehold(t *testing.T) {
	const text = "[[sensor]]\nname = \"eye\"\nchip = \"vl53l4cd\"\n[[sensor]]\nname = \"probe\"\nchip = \"ds18b20\"\nid = \"28-0316a279d5ff\"\n" +
		"[[vessel]]\nname = \"Bramble\"\ndistance = \"eye\"\ntemperature = \"probe\"\n"
	w, file, restarted := newTestWalk(t, text)
	ctx := t.Context()
	if err := w.Rename(ctx, "bess", "Bess"); err == nil || *restarted != nil {
		t.Errorf("an unknown jar was renamed: %v", err)
	}
	if err := w.Rename(ctx, "bramble", "Bess"); err != nil || *restarted == nil {
		t.Fatalf("renamed: %v, restarted %v", err, *restarted != nil)
	}
	conf, err := config.Load(file)
	if err != nil || conf.Vessels[0].Name != "Bess" || conf.Vessels[0].Slug != "bramble" {
		t.Fatalf("the file says %+v, %v", conf, err)
	}
	if err := w.SetFloor(ctx, "bramble", 171.44); err != nil {
		t.Fatal(err)
	}
	if conf, err := config.Load(file); err != nil || conf.Vessels[0].FloorMM != 171.4 {
		t.Errorf("the floor is %+v, %v; want 171.4", conf, err)
	}
	if err := w.Remove(ctx, "bramble"); err != nil {
		t.Fatal(err)
	}
	after, err := os.ReadFile(file)
	if err != nil || strings.Contains(string(after), "Bess") || strings.Contains(string(after), "probe") {
		t.Errorf("what is left is %s (%v)", after, err)
	}
}
