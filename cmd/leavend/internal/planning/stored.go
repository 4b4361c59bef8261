package planning

import (
	"bytes"
	"encoding/json"
	"fmt"

	"leavend/cmd/leavend/internal/text"
)

// storedPlan reads the chosen plan, also one of before its sentences had keys: they stay as
// they were written.
type storedPlan struct{ plan *chosenPlan }

// UnmarshalJSON reads what keep stored.
func (s *storedPlan) UnmarshalJSON(b []byte) error {
	var tree any
	if err := json.Unmarshal(b, &tree); err != nil {
		return fmt.Errorf("read a plan: %w", err)
	}
	if asWritten(tree) {
		var err error
		if b, err = json.Marshal(tree); err != nil {
			return err
		}
	}
	d := json.NewDecoder(bytes.NewReader(b))
	return d.Decode(&s.plan)
}

// asWritten puts the text in the place of a sentence that is kept in pieces, within all of a
// tree, and reports whether there was one. A trouble in pieces is left out: it is said
// again at the next look.
func asWritten(tree any) (found bool) {
	switch v := tree.(type) {
	case []any:
		for _, one := range v {
			found = asWritten(one) || found
		}
	case map[string]any:
		if _, pieces := v["trouble"].([]any); pieces {
			delete(v, "trouble")
			found = true
		}
		written, _ := v["text"].(string)
		if _, pieces := v["say"].([]any); pieces || v["say"] == nil && written != "" {
			v["say"], found = text.Say("plan.step.as_written", text.Name("text", written)), true
		}
		for key, one := range v {
			if key != "say" {
				found = asWritten(one) || found
			}
		}
	}
	return found
}
