package config

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"leavend/peak/plan"
)

// arrival is one key with a value that is not its default, and the field in
// which it must be found; want is how the field then prints, if not as the value.
type arrival[T any] struct {
	key, value, want string
	field            func(T) any
}

// arrivals are the keys that the tests below have seen arrive, by their section.
type arrivals map[string][]string

// arrive writes one key after the other below a header and looks where it went.
func arrive[T any](t *testing.T, seen arrivals, section, header string, of func(*Config) T, all []arrival[T]) {
	t.Helper()
	read := func(text string) T {
		root, _, _ := parse([]byte(text))
		return of(newReader().config(root))
	}
	for _, a := range all {
		want := a.want
		if want == "" {
			want = strings.Trim(a.value, `"`)
		}
		if got := fmt.Sprint(a.field(read(header))); got == want {
			t.Errorf("%s.%s: %s is what it is without the key, so nothing is tried", section, a.key, want)
		}
		if got := fmt.Sprint(a.field(read(header + "\n" + a.key + " = " + a.value))); got != want {
			t.Errorf("%s.%s = %s arrives as %s, want %s", section, a.key, a.value, got, want)
		}
		seen[section] = append(seen[section], a.key)
	}
}

// Every key of the file arrives in the field that is named after it, and in no
// other's place.
func TestEveryKeyArrives(t *testing.T) {
	seen := arrivals{}
	arriveAtTop(t, seen)
	arriveAtVessels(t, seen)
	arriveAtTheMat(t, seen)
	arriveAtTheNetwork(t, seen)
	arriveAtThePlan(t, seen)
	for section, keys := range schema() {
		if section == "sensor" {
			continue // see TestEveryKeyOfAChipArrives
		}
		for _, key := range keys {
			if _, isTable := schema()[strings.TrimPrefix(section+"."+key, ".")]; !isTable && !slices.Contains(seen[section], key) {
				t.Errorf("%s.%s: not seen to arrive", section, key)
			}
		}
	}
}

func arriveAtTop(t *testing.T, seen arrivals) {
	arrive(t, seen, "", "", func(c *Config) *Config { return c }, []arrival[*Config]{
		{"data_dir", `"/srv/leavend"`, "", func(c *Config) any { return c.DataDir }},
		{"units", `"us"`, "", func(c *Config) any { return c.Units }},
		{"language", `"de"`, "", func(c *Config) any { return c.Language }},
		{"clock", "12", "", func(c *Config) any { return c.Clock }},
		{"timezone", `"Asia/Kathmandu"`, "", func(c *Config) any { return c.Timezone }},
		{"log_level", `"warn"`, "WARN", func(c *Config) any { return c.LogLevel }},
	})
	arrive(t, seen, "store", "[store]", func(c *Config) Store { return c.Store }, []arrival[Store]{
		{"file", `"/srv/a.db"`, "", func(s Store) any { return s.File }},
		{"full_rate_days", "7", "", func(s Store) any { return s.FullRateDays }},
		{"sync_every", `"2m"`, "2m0s", func(s Store) any { return s.SyncEvery }},
		{"backup_dir", `"/srv/backup"`, "/srv/backup true", func(s Store) any { return s.BackupDir + fmt.Sprint(" ", s.BackupWhole) }},
		{"backup_dir", `"off"`, " false", func(s Store) any { return s.BackupDir + fmt.Sprint(" ", s.BackupWhole) }},
		{"backups_kept", "5", "", func(s Store) any { return s.BackupsKept }},
	})
	arrive(t, seen, "reminders", "[reminders]", func(c *Config) Reminders { return c.Reminders }, []arrival[Reminders]{
		{"feed_every", `"13h"`, "13h0m0s", func(r Reminders) any { return r.FeedEvery }},
		{"fridge_feed_every", `"200h"`, "200h0m0s", func(r Reminders) any { return r.FridgeFeedEvery }},
		{"discard_keeps", `"100h"`, "100h0m0s", func(r Reminders) any { return r.DiscardKeeps }},
		{"clean_jar_feeds", "9", "", func(r Reminders) any { return r.CleanJarFeeds }},
	})
	arrive(t, seen, "i2c", "[[i2c]]", func(c *Config) Bus { return c.Buses[0] }, []arrival[Bus]{
		{"bus", "4", "", func(b Bus) any { return b.Number }},
		{"free_scl", "20", "gpiochip0:20", func(b Bus) any { return b.FreeSCL }},
		{"free_sda", `"gpiochip4:21"`, "", func(b Bus) any { return b.FreeSDA }},
	})
}

func arriveAtVessels(t *testing.T, seen arrivals) {
	one := func(c *Config) Vessel { return c.Vessels[0] }
	arrive(t, seen, "vessel", "[[vessel]]", one, []arrival[Vessel]{
		{"name", `"Bramble"`, "", func(v Vessel) any { return v.Name }},
		{"slug", `"jar-2"`, "", func(v Vessel) any { return v.Slug }},
		{"kind", `"bowl"`, "", func(v Vessel) any { return v.Kind }},
		{"kind", `"aliquot"`, "bowl true", func(v Vessel) any { return fmt.Sprint(v.Kind, " ", v.Aliquot) }},
		{"starter", `"Rye"`, "", func(v Vessel) any { return v.Starter }},
		{"distance", `"eye"`, "", func(v Vessel) any { return v.Distance }},
		{"temperature", `"probe"`, "", func(v Vessel) any { return v.Temperature }},
		{"floor_mm", "161.5", "", func(v Vessel) any { return v.FloorMM }},
		{"bore_bottom_mm", "80", "", func(v Vessel) any { return v.BottomMM }},
		{"bore_top_mm", "95", "", func(v Vessel) any { return v.TopMM }},
		{"height_mm", `"15cm"`, "150", func(v Vessel) any { return v.HeightMM }},
		{"every", `"20s"`, "", func(v Vessel) any { return v.Every }},
	})
	arrive(t, seen, "vessel", "[[vessel]]\nkind = \"bowl\"", one, []arrival[Vessel]{
		{"target_ratio", "1.85", "", func(v Vessel) any { return v.TargetRatio }},
	})
}

func arriveAtTheMat(t *testing.T, seen arrivals) {
	arrive(t, seen, "mat", "[mat]", func(c *Config) Mat { return c.Mat }, []arrival[Mat]{
		{"output", `"plug"`, "", func(m Mat) any { return m.Output }},
		{"line", "17", "gpiochip0:17", func(m Mat) any { return m.Line }},
		{"vessel", `"Bramble"`, "", func(m Mat) any { return m.Vessel }},
		{"probe", `"a"`, "", func(m Mat) any { return m.Probe }},
		{"second_probe", `"b"`, "", func(m Mat) any { return m.SecondProbe }},
		{"mat_probe", `"c"`, "", func(m Mat) any { return m.MatProbe }},
		{"room_probe", `"d"`, "", func(m Mat) any { return m.RoomProbe }},
		{"watts", "17.5", "", func(m Mat) any { return m.Watts }},
		{"load_kg", "0.4", "", func(m Mat) any { return m.LoadKg }},
		{"switch_life", "50000", "", func(m Mat) any { return m.SwitchLife }},
		{"setpoint_c", `"75.2F"`, "24", func(m Mat) any { return m.SetpointC }},
		{"setpoint_c", "12", "12", func(m Mat) any { return m.SetpointMinC }}, // takes the bound with it
		{"setpoint_min_c", "19", "", func(m Mat) any { return m.SetpointMinC }},
		{"setpoint_max_c", "28", "", func(m Mat) any { return m.SetpointMaxC }},
		{"hysteresis_c", `"0.9F"`, "0.5", func(m Mat) any { return m.HysteresisC }},
		{"cutoff_vessel_c", "37", "", func(m Mat) any { return m.CutoffVesselC }},
		{"cutoff_mat_c", "49", "", func(m Mat) any { return m.CutoffMatC }},
		{"disagree_c", "2.5", "", func(m Mat) any { return m.DisagreeC }},
		{"min_off", `"3m"`, "3m0s", func(m Mat) any { return m.MinOff }},
		{"max_on", `"55m"`, "55m0s", func(m Mat) any { return m.MaxOn }},
		{"rest", `"44m"`, "44m0s", func(m Mat) any { return m.Rest }},
		{"max_duty", "0.55", "", func(m Mat) any { return m.MaxDuty }},
		{"switches_per_hour", "7", "", func(m Mat) any { return m.SwitchesPerHour }},
		{"stale_after", `"77s"`, "1m17s", func(m Mat) any { return m.StaleAfter }},
		{"lease", `"66s"`, "1m6s", func(m Mat) any { return m.Lease }},
		{"start_readings", "9", "", func(m Mat) any { return m.StartReadings }},
		{"gain_within", `"99m"`, "1h39m0s", func(m Mat) any { return m.GainWithin }},
		{"anticipate", "false", "", func(m Mat) any { return m.Anticipate }},
	})
	arrive(t, seen, "mat.plug", "[mat.plug]", func(c *Config) PlugOutput { return c.Mat.Plug }, []arrival[PlugOutput]{
		{"recipe", `"shelly"`, "", func(p PlugOutput) any { return p.Recipe }},
		{"topic", `"oven"`, "", func(p PlugOutput) any { return p.Topic }},
		{"relay", "2", "", func(p PlugOutput) any { return p.Relay }},
		{"echo_deadline", `"7s"`, "", func(p PlugOutput) any { return p.EchoDeadline }},
		{"user", `"u"`, "", func(p PlugOutput) any { return p.User }},
		{"password", `"p"`, "true", func(p PlugOutput) any { return p.Password == Secret{value: "p"} }},
		{"password_file", `"/p"`, "true", func(p PlugOutput) any { return p.Password == Secret{file: "/p"} }},
		{"password_env", `"P"`, "true", func(p PlugOutput) any { return p.Password == Secret{env: "P"} }},
		{"command_topic", `"a/b"`, "", func(p PlugOutput) any { return p.CommandTopic }},
		{"on", `"ON"`, "", func(p PlugOutput) any { return p.On }},
		{"off", `"OFF"`, "", func(p PlugOutput) any { return p.Off }},
		{"timer_topic", `"a/t"`, "", func(p PlugOutput) any { return p.TimerTopic }},
		{"timer", `"9"`, "", func(p PlugOutput) any { return p.Timer }},
		{"state_topic", `"a/s"`, "", func(p PlugOutput) any { return p.StateTopic }},
		{"state_field", `"f"`, "", func(p PlugOutput) any { return p.StateField }},
		{"state_on", `"1"`, "", func(p PlugOutput) any { return p.StateOn }},
		{"state_off", `"0"`, "", func(p PlugOutput) any { return p.StateOff }},
		{"available_topic", `"a/v"`, "", func(p PlugOutput) any { return p.AvailableTopic }},
		{"available_text", `"yes"`, "", func(p PlugOutput) any { return p.AvailableText }},
	})
	arrive(t, seen, "mat.schedule", "[[mat.schedule]]", func(c *Config) Slot { return c.Mat.Schedule[0] }, []arrival[Slot]{
		{"from", `"22:30"`, "", func(s Slot) any { return s.From }},
		{"to", `"06:15"`, "", func(s Slot) any { return s.To }},
		{"days", `["sat", "sun"]`, "[sat sun]", func(s Slot) any { return s.Days }},
		{"stage", `"at-top"`, "", func(s Slot) any { return s.Stage }},
		{"setpoint_c", "22.5", "", func(s Slot) any { return s.SetpointC }},
		{"rest", "true", "", func(s Slot) any { return s.Rest }},
	})
}

func arriveAtTheNetwork(t *testing.T, seen arrivals) {
	arrive(t, seen, "mqtt", "[mqtt]", func(c *Config) MQTT { return c.MQTT }, []arrival[MQTT]{
		{"on", "false", "", func(m MQTT) any { return m.On }},
		{"url", `"mqtts://broker.example"`, "", func(m MQTT) any { return m.URL }},
		{"listen", `"127.0.0.1:1999"`, "", func(m MQTT) any { return m.Listen }},
		{"listen_tls", `"127.0.0.1:8883"`, "", func(m MQTT) any { return m.ListenTLS }},
		{"user", `"baker"`, "", func(m MQTT) any { return m.User }},
		{"password", `"p"`, "true", func(m MQTT) any { return m.Password == Secret{value: "p"} }},
		{"password_file", `"/p"`, "true", func(m MQTT) any { return m.Password == Secret{file: "/p"} }},
		{"password_env", `"P"`, "true", func(m MQTT) any { return m.Password == Secret{env: "P"} }},
		{"client_id", `"shelf"`, "", func(m MQTT) any { return m.ClientID }},
		{"ca_file", `"ca.pem"`, "/ca.pem", func(m MQTT) any { return m.CAFile }},
		{"cert_file", `"c.pem"`, "/c.pem", func(m MQTT) any { return m.CertFile }},
		{"key_file", `"k.pem"`, "/k.pem", func(m MQTT) any { return m.KeyFile }},
		{"prefix", `"bakery/shelf"`, "", func(m MQTT) any { return m.Prefix }},
		{"discovery", "false", "", func(m MQTT) any { return m.Discovery }},
		{"discovery_prefix", `"hub"`, "", func(m MQTT) any { return m.DiscoveryPrefix }},
	})
	arrive(t, seen, "web", "[web]", func(c *Config) Web { return c.Web }, []arrival[Web]{
		{"on", "false", "", func(w Web) any { return w.On }},
		{"listen", `":8080"`, "", func(w Web) any { return w.Listen }},
		{"tls", `"self-made"`, "", func(w Web) any { return w.TLS }},
		{"cert_file", `"c.pem"`, "/c.pem", func(w Web) any { return w.CertFile }},
		{"key_file", `"k.pem"`, "/k.pem", func(w Web) any { return w.KeyFile }},
		{"open_read", "true", "", func(w Web) any { return w.OpenRead }},
		{"hosts", `["kitchen.example", "oven.example"]`, "[kitchen.example oven.example]", func(w Web) any { return w.Hosts }},
	})
	arrive(t, seen, "metrics", "[metrics]", func(c *Config) Metrics { return c.Metrics }, []arrival[Metrics]{
		{"on", "false", "", func(m Metrics) any { return m.On }},
		{"listen", `":9999"`, "", func(m Metrics) any { return m.Listen }},
		{"web_config_file", `"w.yml"`, "/w.yml", func(m Metrics) any { return m.WebConfigFile }},
	})
	arrive(t, seen, "notify", "[[notify]]", func(c *Config) Recipient { return c.Notify[0] }, []arrival[Recipient]{
		{"name", `"phone"`, "", func(n Recipient) any { return n.Name }},
		{"url", `"ntfy://x"`, "true", func(n Recipient) any { return n.URL == Secret{value: "ntfy://x"} }},
		{"url_file", `"/u"`, "true", func(n Recipient) any { return n.URL == Secret{file: "/u"} }},
		{"url_env", `"U"`, "true", func(n Recipient) any { return n.URL == Secret{env: "U"} }},
		{"key", `"k"`, "true", func(n Recipient) any { return n.Key == Secret{value: "k"} }},
		{"key_file", `"/k"`, "true", func(n Recipient) any { return n.Key == Secret{file: "/k"} }},
		{"key_env", `"K"`, "true", func(n Recipient) any { return n.Key == Secret{env: "K"} }},
		{"kinds", `["top", "mat-fault"]`, "[top mat-fault]", func(n Recipient) any { return n.Kinds }},
		{"quiet_from", `"23:45"`, "", func(n Recipient) any { return n.QuietFrom }},
		{"quiet_to", `"05:45"`, "", func(n Recipient) any { return n.QuietTo }},
		{"heads_up", `"17m"`, "17m0s", func(n Recipient) any { return n.HeadsUp }},
		{"repeat_every", `"19m"`, "19m0s", func(n Recipient) any { return n.RepeatEvery }},
		{"repeats", "11", "", func(n Recipient) any { return n.Repeats }},
		{"max_per_hour", "13", "", func(n Recipient) any { return n.MaxPerHour }},
		{"quiet_upkeep", "true", "", func(n Recipient) any { return n.QuietUpkeep }},
	})
}

func arriveAtThePlan(t *testing.T, seen arrivals) {
	arrive(t, seen, "plan", "[plan]", func(c *Config) Plan { return c.Plan }, []arrival[Plan]{
		{"asleep_from", `"21:45"`, "", func(p Plan) any { return p.AsleepFrom }},
		{"asleep_to", `"05:15"`, "", func(p Plan) any { return p.AsleepTo }},
		{"coolest_c", "19.5", "", func(p Plan) any { return p.CoolestC }},
		{"warmest_c", "27.5", "", func(p Plan) any { return p.WarmestC }},
		{"dough_on_mat", "false", "", func(p Plan) any { return p.DoughOnMat }},
		{"starter_on_mat", "true", "", func(p Plan) any { return p.StarterOnMat }},
		{"room_c", "18.5", "", func(p Plan) any { return p.RoomC }},
		{"ratios", `["2:4:3"]`, "[{2 1.5}]", func(p Plan) any { return p.Ratios }},
		{"usual_recipe", `"crumpets"`, "", func(p Plan) any { return p.Recipe }},
		{"fridge_c", "3.5", "", func(p Plan) any { return p.FridgeC }},
	})
	arrive(t, seen, "plan.away", "[[plan.away]]", func(c *Config) plan.Away { return c.Plan.Away[0] }, []arrival[plan.Away]{
		{"from", `"08:30"`, "510", func(a plan.Away) any { return a.From }},
		{"to", `"16:30"`, "990", func(a plan.Away) any { return a.To }},
		{"days", `["mon", "fri"]`, "[Monday Friday]", func(a plan.Away) any { return a.Days }},
		{"start", "2027-01-02T18:00:00Z", "2027-01-02T18:00:00Z", func(a plan.Away) any { return a.Start.Format(time.RFC3339) }},
		{"end", "2027-01-03T18:00:00Z", "2027-01-03T18:00:00Z", func(a plan.Away) any { return a.End.Format(time.RFC3339) }},
	})
	flour := []arrival[plan.Flour]{
		{"kind", `"white wheat"`, "wheat", func(f plan.Flour) any { return f.Kind }},
		{"grams", "450", "", func(f plan.Flour) any { return f.Grams }},
	}
	arrive(t, seen, "plan.flour", "[[plan.flour]]", func(c *Config) plan.Flour { return c.Plan.Flours[0] }, flour)
	arrive(t, seen, "plan.recipe.flour", "[[plan.recipe]]\n[[plan.recipe.flour]]", func(c *Config) plan.Flour { return c.Plan.Recipes[0].Flours[0] }, flour)
	arrive(t, seen, "plan.recipe", "[[plan.recipe]]", func(c *Config) plan.Recipe { return c.Plan.Recipes[0] }, []arrival[plan.Recipe]{
		{"name", `"loaf"`, "", func(r plan.Recipe) any { return r.Name }},
		{"starter_g", "90", "", func(r plan.Recipe) any { return r.StarterG }},
		{"water_g", "330", "", func(r plan.Recipe) any { return r.WaterG }},
		{"salt_g", "11", "", func(r plan.Recipe) any { return r.SaltG }},
	})
	arrive(t, seen, "plan.recipe.stage", "[[plan.recipe]]\n[[plan.recipe.stage]]\nkind = \"rise\"", func(c *Config) plan.Stage { return c.Plan.Recipes[0].Stages[0] }, []arrival[plan.Stage]{
		{"name", `"bulk"`, "", func(s plan.Stage) any { return s.Name }},
		{"time", `"4h30m"`, "4h30m0s", func(s plan.Stage) any { return s.Time }},
		{"oven_before", `"45m"`, "45m0s", func(s plan.Stage) any { return s.Before }},
		{"at_c", "24.5", "", func(s plan.Stage) any { return s.AtC }},
		{"rise_percent", "75", "0.75", func(s plan.Stage) any { return s.To }},
		{"early", "0.05", "", func(s plan.Stage) any { return s.Early }},
		{"late", "0.35", "", func(s plan.Stage) any { return s.Late }},
		{"adds", `["salt"]`, "[salt]", func(s plan.Stage) any { return s.Adds }},
		{"folds", "3", "", func(s plan.Stage) any { return s.Folds.Count }},
		{"folds_every", `"40m"`, "40m0s", func(s plan.Stage) any { return s.Folds.Every }},
		{"fridge_shortest", `"9h"`, "9h0m0s", func(s plan.Stage) any { return s.FridgeShortest }},
		{"fridge_longest", `"33h"`, "33h0m0s", func(s plan.Stage) any { return s.FridgeLongest }},
	})
	arrive(t, seen, "plan.recipe.stage", "[[plan.recipe]]\n[[plan.recipe.stage]]", func(c *Config) plan.Stage { return c.Plan.Recipes[0].Stages[0] }, []arrival[plan.Stage]{
		{"kind", `"rest"`, "", func(s plan.Stage) any { return s.Kind }},
	})
	// Of a table of stops only a whole row is taken; TestStops has its keys.
	seen["plan.stop"] = schema()["plan.stop"]
}

// Every key of every chip arrives too, and no chip has one that is not tried.
func TestEveryKeyOfAChipArrives(t *testing.T) {
	own := map[string]arrival[Sensor]{
		"place":           {"", `"mat"`, "", func(s Sensor) any { return s.Place }},
		"offset_c":        {"", `"0.9F"`, "0.5", func(s Sensor) any { return s.OffsetC }},
		"offset_mm":       {"", "-2.5", "", func(s Sensor) any { return s.OffsetMM }},
		"id":              {"", `"28-0000000000a1"`, "", func(s Sensor) any { return s.ID }},
		"path":            {"", `"/srv/w1"`, "", func(s Sensor) any { return s.Path }},
		"device":          {"", `"nct6775"`, "", func(s Sensor) any { return s.Device }},
		"input":           {"", `"temp3"`, "", func(s Sensor) any { return s.Input }},
		"bus":             {"", "5", "", func(s Sensor) any { return s.Bus }},
		"mux":             {"", "0x72", "114", func(s Sensor) any { return s.Mux }},
		"mux_channel":     {"", "6", "", func(s Sensor) any { return s.MuxChannel }},
		"xshut":           {"", `"gpiochip4:22"`, "", func(s Sensor) any { return s.XShut }},
		"roi":             {"", "8", "[8 8]", func(s Sensor) any { return s.ROI }},
		"crosstalk_kcps":  {"", "1.25", "", func(s Sensor) any { return s.CrosstalkKcps }},
		"budget":          {"", `"50ms"`, "", func(s Sensor) any { return s.Budget }},
		"long":            {"", "true", "", func(s Sensor) any { return s.Long }},
		"trigger":         {"", "5", "gpiochip0:5", func(s Sensor) any { return s.Trigger }},
		"echo":            {"", "6", "gpiochip0:6", func(s Sensor) any { return s.Echo }},
		"air":             {"", `"shelf"`, "", func(s Sensor) any { return s.Air }},
		"air_c":           {"", "18.5", "", func(s Sensor) any { return s.AirC }},
		"channel":         {"", "2", "", func(s Sensor) any { return s.Channel }},
		"thermistor_high": {"", "true", "", func(s Sensor) any { return s.ThermistorHigh }},
		"supply_v":        {"", "3.25", "", func(s Sensor) any { return s.SupplyV }},
		"supply_channel":  {"", "3", "", func(s Sensor) any { return s.SupplyChannel }},
		"series_ohm":      {"", "4700", "", func(s Sensor) any { return s.SeriesOhm }},
		"nominal_ohm":     {"", "100000", "", func(s Sensor) any { return s.NominalOhm }},
		"beta_k":          {"", "3435", "", func(s Sensor) any { return s.BetaK }},
		"steinhart_hart":  {"", "[0.001, 0.0002, 3e-7]", "[0.001 0.0002 3e-07]", func(s Sensor) any { return s.SteinhartHart }},
		"topic":           {"", `"shelf/eye"`, "", func(s Sensor) any { return s.Topic }},
		"field":           {"", `"a.b"`, "", func(s Sensor) any { return s.Field }},
		"unit":            {"", `"cm"`, "", func(s Sensor) any { return s.Unit }},
		"time_field":      {"", `"at"`, "", func(s Sensor) any { return s.TimeField }},
		"max_age":         {"", `"45s"`, "", func(s Sensor) any { return s.MaxAge }},
		"scale":           {"", "-0.5", "", func(s Sensor) any { return s.Scale }},
		"quantity":        {"", `"humidity"`, "", func(s Sensor) any { return s.Quantity }},
		"file":            {"", `"a.csv"`, "/a.csv", func(s Sensor) any { return s.CSV }},
		"speed":           {"", "60", "", func(s Sensor) any { return s.Speed }},
		"loop":            {"", "true", "", func(s Sensor) any { return s.Loop }},
		"seed":            {"", "77", "", func(s Sensor) any { return s.Seed }},
	}
	tried := map[string]bool{"name": true, "chip": true}
	for _, chip := range Chips() {
		header := fmt.Sprintf("[[sensor]]\nchip = %q", chip)
		root, _, _ := parse([]byte(header))
		r := newReader()
		r.config(root)
		var all []arrival[Sensor]
		for _, key := range r.known["sensor"] {
			if a, ok := own[key]; ok {
				a.key = key
				all = append(all, a)
				tried[key] = true
			}
		}
		if low, high := chip.about().low, chip.about().high; low != 0 {
			at := 1 + DefaultSensor(chip).Address
			all = append(all, arrival[Sensor]{"address", fmt.Sprintf("%#x", at), fmt.Sprint(at), func(s Sensor) any { return s.Address }})
			for _, beyond := range []int{low - 1, high + 1} {
				want := fmt.Sprintf("%#x cannot be its address (allowed: %#x to %#x)", beyond, low, high)
				if got := problemsOf(fmt.Sprintf("%s\naddress = %#x", header, beyond)); !strings.Contains(got, want) {
					t.Errorf("%s: got %q, want %q", chip, got, want)
				}
			}
			tried["address"] = true
		}
		arrive(t, arrivals{}, string(chip), header, func(c *Config) Sensor { return c.Sensors[0] }, all)
	}
	for _, key := range schema()["sensor"] {
		if !tried[key] {
			t.Errorf("sensor.%s: not seen to arrive", key)
		}
	}
}

// A row of [[plan.stop]] takes the place of the table that leavend brings along.
func TestStops(t *testing.T) {
	const rows = "[[plan.stop]]\ndough_c = 28\ncold_percent = 30\nroom_percent = 50\nrye_percent = 20\n" +
		"[[plan.stop]]\ndough_c = 21\ncold_percent = 60\nroom_percent = 80\nrye_percent = 40\n"
	c, err := Parse([]byte(rows), "leavend.toml")
	if err != nil {
		t.Fatal(err)
	}
	if got, want := fmt.Sprintf("%+v", c.Plan.Stops), "[{DoughC:28 ColdRise:0.3 RoomRise:0.5 RyeRise:0.2} {DoughC:21 ColdRise:0.6 RoomRise:0.8 RyeRise:0.4}]"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
	for _, key := range schema()["plan.stop"] {
		if _, err := Parse([]byte(strings.Replace(rows, key+" = ", "#", 1)), "leavend.toml"); err == nil || !strings.Contains(err.Error(), "plan.stop[1]."+key+": must be given") {
			t.Errorf("without %s: %v", key, err)
		}
	}
	if _, err := Parse([]byte(strings.Replace(rows, "= 21", "= 29", 1)), "leavend.toml"); err == nil || !strings.Contains(err.Error(), "plan.stop: ") {
		t.Errorf("rows that grow warmer: %v", err)
	}
}
