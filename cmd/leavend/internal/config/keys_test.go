package config

import (
	"fmt"
	"slices"
	"strings"
	"testing"
)

// place is where a section stands, for a test that writes one key into it.
func place(section string) (before, path string) {
	switch section {
	case "":
		return "", ""
	case "vessel", "notify", "i2c":
		return "[[" + section + "]]\n", section + "[1]."
	case "plan.recipe.flour", "plan.recipe.stage":
		return "[[plan.recipe]]\n[[" + section + "]]\n", strings.Replace(section, "recipe.", "recipe[1].", 1) + "[1]."
	case "mat.schedule", "plan.away", "plan.flour", "plan.recipe", "plan.stop":
		return "[[" + section + "]]\n", section + "[1]."
	}
	return "[" + section + "]\n", section + "."
}

// Every key of every table refuses a value of a kind that no key takes, by its
// full name, on its own line, and with what is wanted instead.
func TestEveryKeyRefusesTheWrongKind(t *testing.T) {
	count := 0
	for section, keys := range schema() {
		if section == "sensor" {
			continue // each chip has keys of its own; see below
		}
		for _, key := range keys {
			if _, isTable := schema()[strings.TrimPrefix(section+"."+key, ".")]; isTable {
				continue
			}
			before, path := place(section)
			refusesTheWrongKind(t, before, path+key, key)
			count++
		}
	}
	if count < 120 {
		t.Errorf("only %d keys were tried", count)
	}
}

func TestEveryKeyOfAChipRefusesTheWrongKind(t *testing.T) {
	for _, chip := range Chips() {
		r := newReader()
		all := newTable(1)
		one := newTable(1)
		one.add("chip", &node{shape: isText, line: 1, text: string(chip)})
		all.add("sensor", &node{shape: isTables, line: 1, items: []*node{one}})
		r.config(all)
		for _, key := range r.known["sensor"] {
			if key != "chip" && key != "name" {
				refusesTheWrongKind(t, fmt.Sprintf("[[sensor]]\nname = \"a\"\nchip = %q\n", chip), "sensor[a]."+key, key)
			}
		}
	}
}

// refusesTheWrongKind writes a list of lists, which no key takes.
func refusesTheWrongKind(t *testing.T, before, full, key string) {
	t.Helper()
	_, err := Parse([]byte(before+key+" = [[1], [2]]\n"), "leavend.toml")
	want := fmt.Sprintf("leavend.toml:%d: %s: ", strings.Count(before, "\n")+1, full)
	if err == nil || !slices.ContainsFunc(strings.Split(err.Error(), "\n"), func(line string) bool {
		return strings.HasPrefix(line, want) && strings.Contains(line, "is wanted")
	}) {
		t.Errorf("%s: got %v, want a line that begins with %q and says what is wanted", full, err, want)
	}
}

// The limits of numbers hold to the last digit on both sides, and their messages
// name the value, the limit and what is allowed. Those of the mat bound what a
// heater does.
func TestLimits(t *testing.T) {
	const stage = "[[plan.recipe]]\nname = \"loaf\"\n[[plan.recipe.stage]]\nname = \"bulk\"\nkind = \"rise\"\ntime = \"4h\"\n"
	sensor := func(chip, more string) string {
		return "[[sensor]]\nname = \"a\"\nchip = \"" + chip + "\"\n" + more
	}
	tests := []struct {
		before, key             string
		low, high, below, above string
	}{
		{"[mat]\n", "setpoint_c", "10", "33", "9.9", "35.1"},
		{"[mat]\ncutoff_vessel_c = 40\n", "setpoint_max_c", "25", "35", "9", "36"},
		{"[mat]\n", "setpoint_min_c", "10", "25", "9.99", "35.01"},
		{"[mat]\n", "hysteresis_c", "0.1", "2", "0.09", "2.1"},
		{"[mat]\n", "cutoff_vessel_c", "32", "40", "14.9", "40.1"},
		{"[mat]\n", "cutoff_mat_c", "32", "60", "19", "60.5"},
		{"[mat]\n", "disagree_c", "1", "15", "0.9", "16"},
		{"[mat]\n", "min_off", `"30s"`, `"20m"`, `"29s"`, `"61m"`},
		{"[mat]\n", "max_on", `"10m"`, `"24h"`, `"9m"`, `"25h"`},
		{"[mat]\n", "rest", `"2m"`, `"24h"`, `"1m"`, `"25h"`},
		{"[mat]\n", "max_duty", "0.05", "1", "0.04", "1.01"},
		{"[mat]\n", "switches_per_hour", "1", "30", "0", "31"},
		{"[mat]\n", "switch_life", "0", "100000000", "-1", "100000001"},
		{"[mat]\n", "stale_after", `"10s"`, `"10m"`, `"9s"`, `"11m"`},
		{"[mat]\n", "lease", `"5s"`, `"5m"`, `"4s"`, `"6m"`},
		{"[mat]\n", "start_readings", "1", "100", "0", "101"},
		{"[mat]\n", "gain_within", `"10m"`, `"12h"`, `"9m"`, `"13h"`},
		{"[mat]\n", "watts", "1", "100", "0.5", "101"},
		{"[mat.plug]\n", "relay", "1", "32", "0", "33"},
		{"[mat.plug]\n", "echo_deadline", `"1s"`, `"1m"`, `"500ms"`, `"61s"`},
		{"[[mat.schedule]]\n", "setpoint_c", "18", "30", "9", "36"},
		{"[store]\n", "full_rate_days", "1", "3650", "0", "3651"},
		{"[store]\n", "sync_every", `"10s"`, `"10m"`, `"9s"`, `"11m"`},
		{"[store]\n", "backups_kept", "1", "400", "0", "401"},
		{"[reminders]\n", "feed_every", `"0s"`, `"336h"`, `"-1s"`, `"337h"`},
		{"[reminders]\n", "fridge_feed_every", `"0s"`, `"1440h"`, `"-1s"`, `"1441h"`},
		{"[reminders]\n", "discard_keeps", `"0s"`, `"1440h"`, `"-1s"`, `"1441h"`},
		{"[reminders]\n", "clean_jar_feeds", "0", "100", "-1", "101"},
		{"[plan]\n", "coolest_c", "15", "28", "14", "33"},
		{"[plan]\n", "warmest_c", "22", "32", "14", "33"},
		{"[plan]\n", "room_c", "5", "38", "4", "39"},
		{"[plan]\n", "fridge_c", "0", "12", "-1", "13"},
		{"[[vessel]]\nname = \"B\"\ndistance = \"a\"\n", "floor_mm", "0", "2000", "-1", "2001"},
		{"[[vessel]]\nname = \"B\"\ndistance = \"a\"\nkind = \"bowl\"\n", "target_ratio", "1.1", "4", "1", "4.1"},
		{"[[vessel]]\nname = \"B\"\ndistance = \"a\"\n", "every", `"1s"`, `"5m"`, `"500ms"`, `"6m"`},
		{"[[vessel]]\nname = \"B\"\ndistance = \"a\"\n", "height_mm", "20", "600", "19", "601"},
		{"[[vessel]]\nname = \"B\"\ndistance = \"a\"\n", "bore_bottom_mm", "20", "600", "19", "601"},
		{"[[notify]]\nname = \"a\"\nurl_env = \"X\"\n", "heads_up", `"0s"`, `"6h"`, `"-1s"`, `"7h"`},
		{"[[notify]]\nname = \"a\"\nurl_env = \"X\"\n", "repeat_every", `"0s"`, `"6h"`, `"-1s"`, `"7h"`},
		{"[[notify]]\nname = \"a\"\nurl_env = \"X\"\n", "repeats", "0", "50", "-1", "51"},
		{"[[notify]]\nname = \"a\"\nurl_env = \"X\"\n", "max_per_hour", "1", "60", "0", "61"},
		{sensor("ds18b20", ""), "offset_c", "-5", "5", "-5.1", "5.1"},
		{sensor("vl53l1x", ""), "offset_mm", "-100", "100", "-101", "101"},
		{sensor("vl53l1x", ""), "roi", "4", "16", "3", "17"},
		{sensor("vl53l1x", ""), "crosstalk_kcps", "0", "127", "-1", "128"},
		{sensor("vl6180x", ""), "crosstalk_kcps", "0", "2000", "-1", "2001"},
		{sensor("vl53l4cd", ""), "budget", `"20ms"`, `"200ms"`, `"19ms"`, `"201ms"`},
		{sensor("sht4x", ""), "bus", "0", "255", "-1", "256"},
		{sensor("sht4x", "mux = 0x70\n"), "mux_channel", "0", "7", "-1", "8"},
		{sensor("ads1115-ntc", ""), "channel", "0", "3", "-1", "4"},
		{sensor("ads1115-ntc", ""), "supply_v", "1.8", "4", "1.7", "4.1"},
		{sensor("ads1115-ntc", ""), "series_ohm", "100", "1e6", "99", "1.1e6"},
		{sensor("ads1115-ntc", ""), "beta_k", "2000", "6000", "1999", "6001"},
		{sensor("ultrasonic", "trigger = 5\necho = 6\n"), "air_c", "0", "30", "-1", "31"},
		{sensor("topic", "quantity = \"distance\"\ntopic = \"a\"\n"), "max_age", `"5s"`, `"1h"`, `"4s"`, `"61m"`},
		{sensor("topic", "quantity = \"distance\"\ntopic = \"a\"\n"), "scale", "-1e6", "1e6", "-1.1e6", "1.1e6"},
		{sensor("kitchen", ""), "speed", "0.1", "10000", "0.05", "10001"},
		{stage, "early", "0", "0.5", "-0.1", "0.6"},
		{stage, "late", "0", "2", "-0.1", "2.1"},
		{stage, "rise_percent", "10", "300", "9", "301"},
		{stage, "folds", "0", "8", "-1", "9"},
	}
	for _, tt := range tests {
		t.Run(strings.TrimSpace(strings.SplitN(tt.before, "\n", 2)[0])+" "+tt.key, func(t *testing.T) {
			says := func(value string) string {
				_, err := Parse([]byte(tt.before+tt.key+" = "+value+"\n"), "leavend.toml")
				if err == nil {
					return ""
				}
				return err.Error()
			}
			for _, good := range []string{tt.low, tt.high} {
				if got := says(good); strings.Contains(got, "."+tt.key+": ") {
					t.Errorf("%s = %s: %v", tt.key, good, got)
				}
			}
			for _, bad := range []struct{ value, side string }{{tt.below, "below"}, {tt.above, "above"}} {
				if got := says(bad.value); !strings.Contains(got, tt.key+": ") || !strings.Contains(got, bad.side+" the limit") || !strings.Contains(got, "(allowed: ") {
					t.Errorf("%s = %s: got %q, want one that is %s the limit", tt.key, bad.value, got, bad.side)
				}
			}
		})
	}
}
