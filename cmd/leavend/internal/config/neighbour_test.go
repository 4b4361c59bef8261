package config

import (
	"fmt"
	"slices"
	"strings"
	"testing"
)

// eachKey calls f for every key that is no table, with the lines that lead to it.
func eachKey(f func(section, before, key string)) {
	all := schema()
	for section, keys := range all {
		for _, key := range keys {
			if _, isTable := all[strings.TrimPrefix(section+"."+key, ".")]; !isTable && section != "sensor" {
				before, _ := place(section)
				f(section, before, key)
			}
		}
	}
}

// problemsOf is what is said of a file, "" for nothing.
func problemsOf(text string) string {
	if _, err := Parse([]byte(text), "leavend.toml"); err != nil {
		return err.Error()
	}
	return ""
}

// A letter too many in any key is found, on its line, and the key is named that
// was meant.
func TestEveryMisspeltKeyIsRecognized(t *testing.T) {
	eachKey(func(section, before, key string) {
		slip := key[:1] + key
		if _, is := schema()[slip]; is {
			t.Fatalf("%q is a table", slip)
		}
		_, path := place(section)
		want := fmt.Sprintf("leavend.toml:%d: %s%s: there is no such key here; did you mean %q?", 1+strings.Count(before, "\n"), path, slip, key)
		if got := problemsOf(before + slip + " = 1\n"); !strings.Contains(got, want) {
			t.Errorf("got %q, want %q", got, want)
		}
	})
}

// A key that stands in a table where it does not belong is told where it does,
// unless one spelt much like it belongs there.
func TestEveryStrayKeyIsSentHome(t *testing.T) {
	sent := 0
	eachKey(func(section, _, key string) {
		for _, stray := range []string{"store", "metrics"} {
			if slices.Contains(schema()[stray], key) {
				continue
			}
			got := problemsOf("[" + stray + "]\n" + key + " = 1\n")
			if strings.Contains(got, "did you mean") {
				continue
			}
			if !strings.Contains(got, "there is no such key here; it belongs ") || !strings.Contains(got, header(section)) {
				t.Errorf("[%s] %s: got %q, want that it belongs %s", stray, key, got, header(section))
			}
			sent++
		}
	})
	if sent < 200 {
		t.Errorf("only %d keys were sent home", sent)
	}
}

// A key given twice is told with the line of the first, and neither is believed.
func TestEveryKeyIsGivenOnce(t *testing.T) {
	eachKey(func(section, before, key string) {
		line := 1 + strings.Count(before, "\n")
		want := fmt.Sprintf("leavend.toml:%d: ", line+1)
		got := problemsOf(before + key + " = 1\n" + key + " = 1\n")
		if !strings.Contains(got, want) || !strings.Contains(got, fmt.Sprintf("is given twice, first on line %d; keep one", line)) {
			t.Errorf("%s.%s: got %q", section, key, got)
		}
	})
}

// Of all keys, these alone hold secrets: what a baker sends to a helper shows
// every other one, and none of these.
func TestEveryKeyIsShownOrHidden(t *testing.T) {
	secrets := map[string]string{"mqtt": "password", "mat.plug": "password", "notify": "url key"}
	hides := 0
	eachKey(func(section, before, key string) {
		base := strings.TrimSuffix(strings.TrimSuffix(key, "_file"), "_env")
		secret := slices.Contains(strings.Fields(secrets[section]), base)
		shown := Redact([]byte(before+key+" = \"crumbcrumb\"\n"), t.TempDir())
		if secret == strings.Contains(shown.Text, "crumbcrumb") {
			t.Errorf("%s.%s: shown as %q", section, key, shown.Text)
		}
		if secret && (!strings.Contains(shown.Text, key+" = (hidden)") || !slices.Contains(shown.Secrets, "crumbcrumb")) {
			t.Errorf("%s.%s: shown as %q, and its secrets are %q", section, key, shown.Text, shown.Secrets)
		}
		if secret {
			hides++
		}
	})
	if hides != 12 {
		t.Errorf("%d keys were hidden, want 12", hides)
	}
}

// Every choice that a key of words names in its message is taken.
func TestEveryChoiceIsTaken(t *testing.T) {
	words := 0
	eachKey(func(section, before, key string) {
		full := "." + key + ": "
		if section == "" {
			full = key + ": "
		}
		got := problemsOf(before + key + " = \"no such word\"\n")
		_, choices, ok := strings.Cut(got, full+`"no such word" is not one of `)
		if !ok {
			return
		}
		choices, _, _ = strings.Cut(choices, "\n")
		for _, choice := range strings.FieldsFunc(choices, func(r rune) bool { return r == ',' || r == ' ' }) {
			if choice == "or" {
				continue
			}
			if got := problemsOf(before + key + " = " + choice + "\n"); strings.Contains(got, "is not one of") {
				t.Errorf("%s.%s = %s: %s", section, key, choice, got)
			}
		}
		words++
	})
	if words < 7 {
		t.Errorf("only %d keys of words were tried", words)
	}
}
