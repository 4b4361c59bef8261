package flour

import "testing"

// The names are as mills and bakers write them; the numbers are of the German, Austrian
// and French kinds of flour (common practice, from memory).
func TestRead(t *testing.T) {
	for _, tt := range []struct {
		name       string
		rye, whole bool
	}{
		{"rye", true, false}, {"dark rye 1150", true, false}, {"whole rye", true, true}, {"RYE MEAL, wholemeal", true, true},
		{"Roggen", true, false}, {"Roggenmehl Type 997", true, false}, {"Bio-Vollkornroggenmehl", true, true}, {"Waldstaudenroggen", true, false},
		{"Roggenbackschrot 1800", true, true}, {"Type 1370", true, false}, {"997", true, false}, {"1150er", false, false},
		{"seigle", true, false}, {"farine de seigle T130", true, false}, {"T170", true, true}, {"T 130", true, false}, {"R 960", true, false},
		{"farina di segale integrale", true, true}, {"harina de centeno", true, false}, {"rugmel", true, false}, {"rågmjöl", true, false},
		{"ruisjauho", true, false}, {"mąka żytnia razowa", true, true}, {"pumpernickel flour", true, false},
		{"Roggen-Weizen-Mischung", true, false}, {"Weizen-Roggen-Mischung", false, false}, {"wheat with some rye", false, false},

		{"wheat", false, false}, {"whole wheat", false, true}, {"wholemeal", false, true}, {"Weizenmehl Type 405", false, false}, {"Weizen 550", false, false},
		{"812", false, false}, {"Weizen 1050", false, false}, {"Weizen 1150", false, false}, {"Type 1600", false, true}, {"Weizenvollkorn", false, true},
		{"Dinkel 630", false, false}, {"Dinkelmehl 812", false, false}, {"Dinkel 1050", false, false}, {"spelt", false, false},
		{"T65", false, false}, {"T80", false, false}, {"T110", false, false}, {"farine de blé T150", false, true}, {"W700", false, false},
		{"buckwheat", false, false}, {"Fryer's strong white", false, false}, {"Grandad's mix", false, false}, {"rug", false, false}, {"", false, false}, {"t", false, false},
	} {
		if r, w := Rye(tt.name), Whole(tt.name); r != tt.rye || w != tt.whole {
			t.Errorf("%q: rye %v, whole %v", tt.name, r, w)
		}
	}
}

// FuzzRead looks for a name that cannot be read at all.
func FuzzRead(f *testing.F) {
	f.Add("T 130")
	f.Fuzz(func(_ *testing.T, name string) { Rye(name); Whole(name) })
}
