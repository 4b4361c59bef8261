package web

import (
	"context"
	"net/http"
	"strings"
	"sync"
	"testing"

	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/text"
)

// madeUpWalk is a board that does not exist, with a ranger and a thermometer.
type madeUpWalk struct {
	mu   sync.Mutex // guards kept
	kept []WalkAnswers
}

func (w *madeUpWalk) Found(context.Context, string) (WalkFound, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	f := WalkFound{
		Sensors:  []WalkSensor{{"i2c-1-0x29", "a VL53L1X laser ranger (i2c-1-0x29)", "distance"}, {"28-000000000001", "a DS18B20 thermometer, number 28-000000000001", "temperature"}},
		Amiss:    []Check{{Group: "sensors", Name: "i2c bus 3", State: "bad", Says: "no chip answers.", Do: "check the wires"}},
		Lines:    []int{16, 17},
		Recipes:  []string{"tasmota", "shelly"},
		Cautions: fakeCautions, CautionsSay: fakeCautionsSay,
	}
	for _, a := range w.kept {
		f.Vessels = append(f.Vessels, a.Name)
	}
	return f, nil
}

func (w *madeUpWalk) Measure(_ context.Context, key string) (WalkReading, error) {
	switch key {
	case "i2c-1-0x29":
		return WalkReading{Value: 171.4, Spread: 1.5, Unit: "mm", Taken: 9}, nil
	case "28-000000000001":
		return WalkReading{Value: 23.5, Spread: 0.1, Unit: "°C", Taken: 8, Failed: 1}, nil
	}
	return WalkReading{}, &failure.Refusal{Code: "sensor", Say: text.Literal("It does not answer any more.")}
}

func (w *madeUpWalk) Draft(_ context.Context, _ string, a WalkAnswers) (WalkDraft, error) {
	return WalkDraft{Difference: "line 1\n+[[vessel]]\n+name = \"" + a.Name + "\"\n", Notes: []string{"A note."}}, nil
}

func (w *madeUpWalk) Keep(_ context.Context, a WalkAnswers) error {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.kept = append(w.kept, a)
	return nil
}

// TestWalkRoutes checks every answer against openapi.json, and that nothing
// odd reaches the walk.
func TestWalkRoutes(t *testing.T) {
	walk := &madeUpWalk{}
	_, _, v := newKitchen(t, Opts{Walk: walk})
	good := `{"name":"Bramble","kind":"jar","distance":"i2c-1-0x29","temperature":"","floor_mm":171.4,"height_mm":0,"mat":"none","line":0,"recipe":"","topic":"","cautions_accepted":false,"tell":"","us":false}`
	for _, c := range []struct {
		method, path, body string
		status             int
	}{
		{"GET", "/api/walk", "", 200},
		{"POST", "/api/walk/reading", `{"sensor":"i2c-1-0x29"}`, 200},
		{"POST", "/api/walk/reading", `{"sensor":"nothing"}`, 409},
		{"POST", "/api/walk/draft", good, 200},
		{"POST", "/api/walk/keep", good, 204},
		{"POST", "/api/walk/keep", strings.Replace(good, `"Bramble"`, `"  "`, 1), 422},
		{"POST", "/api/walk/keep", strings.Replace(good, `"Bramble"`, `"a\nb"`, 1), 422},
		{"POST", "/api/walk/keep", strings.Replace(good, `"jar"`, `"pot"`, 1), 422},
		{"POST", "/api/walk/keep", strings.Replace(good, `171.4`, `-1`, 1), 422},
		{"POST", "/api/walk/keep", strings.Replace(good, `"none"`, `"gpio"`, 1), 409},
		{"POST", "/api/walk/keep", strings.Replace(good, `"none"`, `"stove"`, 1), 422},
	} {
		if status, body := v.do(c.method, c.path, c.body); status != c.status {
			t.Errorf("%s %s %s: %d, want %d: %v", c.method, c.path, c.body, status, c.status, body)
		}
	}
	if len(walk.kept) != 1 {
		t.Errorf("%d answers were kept, want 1", len(walk.kept))
	}
	// Without a walk, as in the demo, there is a word and no panic.
	_, _, bare := newKitchen(t, Opts{})
	if status, _ := bare.do("GET", "/api/walk", ""); status != http.StatusConflict {
		t.Errorf("without a walk: %d", status)
	}
	// From the network without signing in nothing is told.
	_, _, far := newKitchen(t, Opts{Listen: "0.0.0.0:8420", OpenReading: true, Walk: walk})
	far.from, far.host = lan, "192.0.2.1:8420"
	if status, _ := far.do("GET", "/api/walk", ""); status != http.StatusUnauthorized {
		t.Errorf("without signing in: %d", status)
	}
}
