package config

import (
	"leavend/cmd/leavend/internal/text"
	"strings"
	"testing"
)

func TestDidYouMean(t *testing.T) {
	keys := []string{"setpoint_c", "setpoint_min_c", "hysteresis_c", "cutoff_vessel_c", "cutoff_mat_c", "output", "line"}
	tests := []struct{ name, word, want string }{
		{"a letter too few", "setpont_c", "setpoint_c"},
		{"a letter too many", "setpointt_c", "setpoint_c"},
		{"two neighbours the wrong way round", "ouptut", "output"},
		{"capitals", "LINE", "line"},
		{"only the beginning", "hyst", "hysteresis_c"},
		{"a beginning of two", "cutoff", ""},
		{"a beginning of two letters", "ou", ""},
		{"nothing like it", "watts", ""},
		{"nothing at all", "", ""},
		{"far too long", strings.Repeat("x", 100), ""},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got := didYouMean(tt.word, keys).In(text.Reader{})
			want := ""
			if tt.want != "" {
				want = `; did you mean "` + tt.want + `"?`
			}
			if got != want {
				t.Errorf("%q gives %q, want %q", tt.word, got, want)
			}
		})
	}
}

// The distances are those of the literature: "kitten" and "sitting" lie three
// edits apart (Levenshtein), and neighbours that changed places are one edit in
// Damerau's distance.
func TestDistance(t *testing.T) {
	tests := []struct {
		a, b string
		want int
	}{
		{"kitten", "sitting", 3}, {"saturday", "sunday", 3}, {"flaw", "lawn", 2}, {"ab", "ba", 1}, {"abcd", "acbd", 1},
		{"", "", 0}, {"", "abc", 3}, {"abc", "", 3}, {"same", "same", 0},
	}
	for _, tt := range tests {
		if got := distance(tt.a, tt.b); got != tt.want {
			t.Errorf("distance(%q, %q) = %d, want %d", tt.a, tt.b, got, tt.want)
		}
		if got := distance(tt.b, tt.a); got != tt.want {
			t.Errorf("distance(%q, %q) = %d, want %d", tt.b, tt.a, got, tt.want)
		}
	}
}

// A key in the wrong place is told where it belongs.
func TestHintsToTheRightPlace(t *testing.T) {
	tests := []struct{ name, text, want string }{
		{"a key of the mat at the top", "setpoint_c = 24", "it belongs in [[mat.schedule]], [mat]"},
		{"a key of the top in a table", "[mat]\nunits = \"us\"", "it belongs at the top of the file, above the first [section]"},
		{"a key of the broker in the page's table", "[web]\nclient_id = \"x\"", "it belongs in [mqtt]"},
		{"a key of a recipe's stage in the plan", "[plan]\nrise_percent = 50", "it belongs in [[plan.recipe.stage]]"},
		{"a key of no table", "[mat]\nbreadmaker = 1", "see 'leavend config' for all keys"},
		{"a misspelt key", "[mat]\nsetpont_c = 24", `did you mean "setpoint_c"?`},
		{"a misspelt table", "[matt]\nsetpoint_c = 24", `did you mean "mat"?`},
		{"a key of another chip", "[[sensor]]\nname = \"a\"\nchip = \"ds18b20\"\nroi = 4", `chip = "ds18b20" has no such key; it may have`},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if _, err := Parse([]byte(tt.text), "leavend.toml"); err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("got %v, want a hint with %q", err, tt.want)
			}
		})
	}
}
