package config

import (
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// compare tells configurations apart; secrets by where they are kept.
var compare = cmp.Options{
	cmp.Comparer(func(a, b Secret) bool { return a == b }),
	cmp.Comparer(func(a, b *time.Location) bool { return a.String() == b.String() }),
}

// The reference shows every key at its default, so reading it must give what
// an empty file gives.
func TestReferenceEqualsDefaults(t *testing.T) {
	got, err := Parse([]byte(Reference()), "/etc/leavend/leavend.toml")
	if err != nil {
		t.Fatal(err)
	}
	empty, err := Parse(nil, "/etc/leavend/leavend.toml")
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(got, empty, compare); d != "" {
		t.Errorf("the reference differs from an empty file (-reference +empty):\n%s", d)
	}
	want := Default()
	want.File, want.Store.File = got.File, "/var/lib/leavend/leavend.db"
	want.Store.BackupDir = "/var/lib/leavend/backups"
	if d := cmp.Diff(got, want, compare); d != "" {
		t.Errorf("the reference differs from Default (-reference +default):\n%s", d)
	}
}

// unset matches a key that stands in the reference without being set.
var unset = regexp.MustCompile(`(?m)^#([^ \n])`)

// With every example taken in, the reference is still without a mistake, and
// what is shown for each key is the default where there is one.
func TestReferenceExamples(t *testing.T) {
	full := unset.ReplaceAllString(Reference(), "$1")
	got, err := Parse([]byte(full), "/etc/leavend/leavend.toml")
	if err != nil {
		t.Fatalf("the examples of the reference do not fit together:\n%v", err)
	}
	if len(got.Sensors) != len(Chips()) {
		t.Errorf("the reference shows %d sensors, want one for each of %d chips", len(got.Sensors), len(Chips()))
	}
	for _, s := range got.Sensors {
		d := DefaultSensor(s.Chip)
		if s.Chip == DS18B20 && s.Path != d.Path || s.Chip == Topic && (s.MaxAge != d.MaxAge || s.Scale != d.Scale) ||
			s.Chip == ADS1115NTC && (s.SupplyV != d.SupplyV || s.SeriesOhm != d.SeriesOhm || s.NominalOhm != d.NominalOhm || s.BetaK != d.BetaK) ||
			(s.Chip == VL53L1X || s.Chip == VL53L0X) && (s.Budget != d.Budget || s.ROI != d.ROI || s.CrosstalkKcps != d.CrosstalkKcps) || s.Chip == Ultrasonic && s.AirC != d.AirC {
			t.Errorf("the reference shows %+v, but the defaults are %+v", s, d)
		}
	}
	bowl := DefaultVessel(Bowl)
	if v, _ := got.Vessel("Dough"); v.TargetRatio != bowl.TargetRatio {
		t.Errorf("the reference shows target_ratio %v, but the default is %v", v.TargetRatio, bowl.TargetRatio)
	}
	d := DefaultRecipient()
	d.Name, d.URL, d.Key = got.Notify[0].Name, got.Notify[0].URL, got.Notify[0].Key
	d.QuietFrom, d.QuietTo = got.Notify[0].QuietFrom, got.Notify[0].QuietTo
	if diff := cmp.Diff(got.Notify[0], d, compare); diff != "" {
		t.Errorf("the reference shows other defaults for [[notify]] (-reference +default):\n%s", diff)
	}
}

// Every key that the reader knows stands in the reference, in its section.
func TestReferenceHasEveryKey(t *testing.T) {
	shown := map[string]string{}
	section := ""
	header := regexp.MustCompile(`^#?\[+([a-z0-9.]+)\]+`)
	for _, line := range strings.Split(Reference(), "\n") {
		if m := header.FindStringSubmatch(line); m != nil {
			section = m[1]
		}
		shown[section] += line + "\n"
	}
	for section, keys := range schema() {
		for _, key := range keys {
			if key == "sensor" || key == "vessel" || section == "" && shown[key] != "" || shown[section+"."+key] != "" {
				continue // a table and not a key
			}
			if !regexp.MustCompile(`(?m)^(#|# Or: )?` + key + ` = `).MatchString(shown[section]) {
				t.Errorf("the reference does not show %s.%s", section, key)
			}
		}
	}
}

// A number is only documented once it is said what more or less of it does.
func TestReferenceSaysWhatMoreAndLessDo(t *testing.T) {
	says := regexp.MustCompile(`(?i)\b(higher|lower|longer|shorter|greatest|too high|warmer|no lower)\b`)
	number := regexp.MustCompile(`^#?([a-z_]+) = (-?[0-9]|"[0-9.]+(ms|s|m|h)")`)
	// What these do is said once for all sensors, or for the sensor above.
	common := map[string]bool{"offset_c": true, "offset_mm": true}
	said := map[string]bool{}
	comment := ""
	for i, line := range strings.Split(Reference(), "\n") {
		switch m := number.FindStringSubmatch(line); {
		case strings.HasPrefix(line, "# ") || line == "#":
			comment += line + "\n"
			continue
		case m != nil && says.MatchString(comment):
			said[m[1]] = true
		case m != nil && !common[m[1]] && !said[m[1]]:
			t.Errorf("line %d: %s is a number, but its comment does not say what a higher or lower one does:\n%s", i+1, m[1], comment)
		}
		// A group of keys shares the comment above it.
		if line == "" {
			comment = ""
		}
	}
}
