package plan

import "testing"

func TestFlourKind(t *testing.T) {
	for name, want := range map[string]string{
		"wheat": "wheat", "white wheat": "wheat", "White wheat flour": "wheat",
		"whole wheat": "whole wheat", "wholemeal wheat flour": "whole wheat",
		"rye": "rye", "rye flour": "rye", "wholemeal  rye": "whole rye", "whole rye": "whole rye",
		"white spelt flour": "spelt", "wholemeal spelt": "whole spelt",
		"Granddad's mix": "Granddad's mix", "flour": "flour", "rye bran": "rye bran", "": "",
	} {
		if got := FlourKind(name); got != want {
			t.Errorf("FlourKind(%q) is %q, want %q", name, got, want)
		}
	}
}
