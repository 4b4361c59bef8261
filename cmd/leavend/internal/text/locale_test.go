package text

import "testing"

// The order of the three is that of POSIX.1-2017,
// Base Definitions, 8.2; the form of a value is that of its 8.2 too:
// language[_territory][.codeset][@modifier].
func TestOfTerminal(t *testing.T) {
	for _, tt := range []struct {
		name             string
		all, messages, l string
		want             string
	}{
		{"nothing set", "", "", "", "xx"},
		{"LANG alone", "", "", "de_AT.UTF-8", "de"},
		{"LC_MESSAGES before LANG", "", "en_GB.UTF-8", "de_DE.UTF-8", "en"},
		{"LC_ALL before both", "de_DE@euro", "en_GB.UTF-8", "en_GB.UTF-8", "de"},
		{"the C locale", "C.UTF-8", "", "de_DE.UTF-8", "xx"},
		{"the POSIX locale", "", "POSIX", "de_DE.UTF-8", "xx"},
		{"a language that is not there", "", "", "nb_NO.UTF-8", "en"},
		{"no locale at all", "", "", "x_!", "en"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			env := map[string]string{"LC_ALL": tt.all, "LC_MESSAGES": tt.messages, "LANG": tt.l}
			if got := OfTerminal(func(name string) string { return env[name] }, "xx"); got != tt.want {
				t.Errorf("%s, want %s", got, tt.want)
			}
		})
	}
}
