package daemon

import (
	"os"
	"strings"
	"testing"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/web"
)

// TestHousehold changes names and hours in the config's own file and has the
// daemon start again with it; what cannot be done says why and changes nothing.
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
	hours := web.Hours{AsleepFrom: "23:15", AsleepTo: "07:00", Away: []web.Absence{{From: "08:00", To: "17:00", Days: []string{"mon"}}}}
	if err := w.SetHours(ctx, hours); err != nil {
		t.Fatal(err)
	}
	got, err := w.Hours(ctx)
	if err != nil || got.AsleepFrom != "23:15" || len(got.Away) != 1 || got.Away[0].Days[0] != "mon" {
		t.Errorf("the hours are %+v, %v", got, err)
	}
	if err := w.SetHours(ctx, web.Hours{AsleepFrom: "25:00", AsleepTo: "07:00"}); err == nil {
		t.Error("25:00 was taken for a time of day")
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
	book, err := w.Recipes(ctx)
	if err != nil || len(book.All) != 4 || book.All[0].Own || book.Blocked != "" {
		t.Fatalf("the recipes are %+v, %v", book, err)
	}
	rolls := book.All[0]
	rolls.Name, rolls.WaterG, rolls.Flours[0].Kind = "rolls", 300, "white spelt flour"
	if err := w.SetRecipe(ctx, "rolls", rolls); err != nil {
		t.Fatal(err)
	}
	if err := w.SetRecipe(ctx, "rolls", book.All[1]); err == nil {
		t.Error("two recipes of one name were taken")
	}
	if conf, err := config.Load(file); err != nil || conf.Plan.Recipes[0].WaterG != 300 || conf.Plan.Recipes[0].Flours[0].Kind != "spelt" || len(conf.Plan.Recipes[0].Stages) != 6 {
		t.Errorf("the recipes are %+v, %v", conf.Plan.Recipes, err)
	}
	if err := w.RemoveRecipe(ctx, "pan loaf"); err == nil {
		t.Error("an example was taken out")
	}
	if err := w.RemoveRecipe(ctx, "rolls"); err != nil {
		t.Fatal(err)
	}
	if err := w.Remove(ctx, "bramble"); err != nil {
		t.Fatal(err)
	}
	after, err := os.ReadFile(file)
	if err != nil || strings.Contains(string(after), "Bess") || strings.Contains(string(after), "probe") {
		t.Errorf("what is left is %s (%v)", after, err)
	}
}
