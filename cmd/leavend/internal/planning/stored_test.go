package planning

import (
	"encoding/json"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/text"
)

// A plan of an earlier release kept its sentences in pieces; they stay as they were
// written, whatever the reader's language, and all else is as it was.
func TestPlanInPiecesIsRead(t *testing.T) {
	const stored = `{"ask":{"vessel":"bramble","ready":"2026-11-28T07:30:00Z"},"name":"Bramble","chosen_at":"2026-11-26T18:00:00Z",
		"trouble":["It can hardly be ready by ",{"at":"2026-11-28T07:30:00Z"},"."],
		"shown":{"id":"a","steps":[{"name":"feed","kind":"do","text":"Feed 1:2:2: keep 12 g.","say":["Feed 1:2:2: keep ",{"g":12},"."],"at":"2026-11-27T06:30:00Z"}],
		"risks":[{"text":"One in ten.","say":["One in ten."]}],"why":[]}}`
	var got storedPlan
	if err := json.Unmarshal([]byte(stored), &got); err != nil {
		t.Fatal(err)
	}
	c := got.plan
	if c == nil || c.Name != "Bramble" || !c.Trouble.IsZero() || len(c.Shown.Steps) != 1 || !c.Shown.Steps[0].At.Equal(time.Date(2026, 11, 27, 6, 30, 0, 0, time.UTC)) {
		t.Fatalf("it reads %+v", c)
	}
	for _, language := range text.Languages() {
		shown := Writer{text.Reader{Language: language}}.Again(c.Shown)
		if shown.Steps[0].Text != "Feed 1:2:2: keep 12 g." || shown.Risks[0].Text != "One in ten." {
			t.Errorf("%s: %q, %q", language, shown.Steps[0].Text, shown.Risks[0].Text)
		}
	}
	again, err := json.Marshal(c)
	if err != nil {
		t.Fatal(err)
	}
	var back storedPlan
	if err := json.Unmarshal(again, &back); err != nil || back.plan.Shown.Steps[0].Say.Key != "plan.step.as_written" {
		t.Errorf("what is stored of it reads %v, %+v", err, back.plan)
	}
	var none storedPlan
	if err := json.Unmarshal([]byte("null"), &none); err != nil || none.plan != nil {
		t.Errorf("no plan reads %v, %+v", err, none.plan)
	}
}
