package config

import (
	"strings"
	"testing"
)

// plugFile is a sound configuration of a mat behind a plug with a login.
const plugFile = `
[[sensor]]
name = "probe"
chip = "ds18b20"
[[sensor]]
name = "under"
chip = "sht4x"
place = "mat"
[mqtt]
listen = ":1883"
user = "baker"
password_env = "X"
[mat]
output = "plug"
probe = "probe"
mat_probe = "under"
[mat.plug]
recipe = "tasmota"
topic = "oven"
user = "oven"
password_env = "Y"
`

// What each part allows may still not fit together: with a heater, the
// combination is refused before anything is switched on.
func TestPartsThatDoNotFit(t *testing.T) {
	change := func(text, from, to string) string {
		if !strings.Contains(text, from) {
			t.Fatalf("%q does not stand in the file", from)
		}
		return strings.Replace(text, from, to, 1)
	}
	tests := []struct{ name, text, want string }{
		{"a plug that fits", plugFile, ""},
		{"the plug's login is everybody's", change(plugFile, `user = "oven"`, `user = "baker"`), "mat.plug.user: must not be mqtt.user"},
		{"the plug has a login and the broker none", change(change(plugFile, "user = \"baker\"\npassword_env = \"X\"\n", ""), `listen = ":1883"`, `listen = "127.0.0.1:1883"`), "mat.plug.user: needs mqtt.user and its password_file too"},
		{"a login of the plug at another broker", change(plugFile, `listen = ":1883"`, `url = "mqtts://broker.example"`), "mat.plug.user: is a login at the broker inside leavend"},
		{"a login without a password", change(plugFile, "user = \"oven\"\npassword_env = \"Y\"\n", "user = \"oven\"\n"), "mat.plug.user: user and password_file must be given together"},
		{"no MQTT for a plug", change(plugFile, "[mqtt]\n", "[mqtt]\non = false\n"), "mat.output: needs MQTT"},
		{"two probes that are one", change(plugFile, `mat_probe = "under"`, `second_probe = "probe"`), `mat.second_probe: "probe" is the probe it should check; name another one`},
		{"a mat probe that is not on the mat", change(plugFile, `place = "mat"`, `place = "room"`), `mat.mat_probe: the sensor "under" has place = "room", but one with place = "mat" is needed`},
		{"a vessel's probe that is on the mat", change(plugFile, `probe = "probe"`, `probe = "under"`), `mat.probe: the sensor "under" has place = "mat", but one with place = "vessel" is needed`},
		{"a mat under a vessel that is not there", change(plugFile, "[mat]\n", "[mat]\nvessel = \"Brambel\"\n"), `mat.vessel: there is no vessel "Brambel"`},
		{"a reading that may be older than the mat's limit", change(change(plugFile, "chip = \"ds18b20\"", "chip = \"topic\"\nquantity = \"temperature\"\ntopic = \"a/b\"\nmax_age = \"3m\""), "[mat]\n", "[mat]\nstale_after = \"2m\"\n"), "sensor[probe].max_age: 3m is longer than mat.stale_after, 2m"},
		{"a sensor that needs MQTT", "[mqtt]\non = false\n[[sensor]]\nname = \"a\"\nchip = \"topic\"\nquantity = \"distance\"\ntopic = \"x\"\n", "sensor[a].topic: needs MQTT, but mqtt.on is false"},
		{"a simulated mat and a real probe", change(kitchenFile, "output = \"gpio\"\nline = 17", `output = "kitchen"`), `but output = "kitchen" is the simulated mat; use a sensor with chip = "kitchen"`},
		{"a recorded probe for a real mat", change(kitchenFile, `chip = "ds18b20"`, "chip = \"recording\"\nfile = \"x.csv\""), "only a real thermometer may control a heater"},
		{"two topics for one number", "[[sensor]]\nname=\"a\"\nchip=\"topic\"\nquantity=\"distance\"\ntopic=\"x\"\n[[sensor]]\nname=\"b\"\nchip=\"topic\"\nquantity=\"distance\"\ntopic=\"x\"\n", "sensor[b].topic: x is already used by sensor[a].topic"},
		{"two inputs of one converter", "[[sensor]]\nname=\"a\"\nchip=\"ads1115-ntc\"\n[[sensor]]\nname=\"b\"\nchip=\"ads1115-ntc\"\n", "sensor[b].channel: I²C bus 1, 0x48:0 is already used by sensor[a].channel"},
		{"air of a sensor that ranges", "[[sensor]]\nname=\"a\"\nchip=\"ultrasonic\"\ntrigger=5\necho=6\nair=\"b\"\n[[sensor]]\nname=\"b\"\nchip=\"vl53l1x\"\n", `sensor[a].air: the sensor "b" (vl53l1x) does not measure temperature`},
		{"one bus freed by two pairs of lines", "[[i2c]]\nfree_scl=5\nfree_sda=6\n[[i2c]]\nfree_scl=7\nfree_sda=8\n", "i2c[2].bus: I²C bus 1 is already used by i2c[1].bus"},
		{"two recipients of one name", "[[notify]]\nname=\"phone\"\nurl_env=\"X\"\n[[notify]]\nname=\"phone\"\nurl_env=\"Y\"\n", `[[notify]] 1 and 2 are both called "phone"`},
		{"a supply measured where the thermistor is", "[[sensor]]\nname=\"a\"\nchip=\"ads1115-ntc\"\nchannel=2\nsupply_channel=2\n", "sensor[a].supply_channel: 2 is the thermistor's own channel"},
		{"a rest and a setpoint at once", "[[mat.schedule]]\nfrom=\"22:00\"\nto=\"06:00\"\nrest=true\nsetpoint_c=22\n", "a mat that rests has no setpoint"},
		{"a slot that says nothing", "[[mat.schedule]]\nfrom=\"22:00\"\nto=\"06:00\"\n", "setpoint_c: must be given, or rest = true"},
		{"a slot without an end", "[[mat.schedule]]\nfrom=\"22:00\"\nsetpoint_c=22\n", "from and to must be given together"},
		{"a slot of no length", "[[mat.schedule]]\nfrom=\"22:00\"\nto=\"22:00\"\nsetpoint_c=22\n", "is the same as from"},
		{"a day that stands twice", "[[mat.schedule]]\ndays=[\"mon\",\"mon\"]\nsetpoint_c=22\n", `"mon" stands twice`},
		{"a day that is none", "[[mat.schedule]]\ndays=[\"mont\"]\nsetpoint_c=22\n", `"mont" is not one of`},
		{"a setpoint above its own bound", "[mat]\nsetpoint_c = 28\nsetpoint_max_c = 27\n", "mat.setpoint_c: 28 is above mat.setpoint_max_c, 27"},
		{"a setpoint below its own bound", "[mat]\nsetpoint_c = 20\nsetpoint_min_c = 21\n", "mat.setpoint_c: 20 is below mat.setpoint_min_c, 21"},
		{"a setpoint that widens the bounds", "[mat]\nsetpoint_c = 32\n", ""},
		{"a cutoff too near the highest setpoint", "[mat]\nsetpoint_max_c = 34\n", "mat.setpoint_max_c: the cutoff cutoff_vessel_c = 35 must lie at least 2 °C above"},
		{"key without certificate", "[web]\ntls = \"files\"\nkey_file = \"k\"\n", "web.cert_file: must be given with key_file"},
		{"certificates that are not used", "[web]\ncert_file = \"c\"\nkey_file = \"k\"\n", `web.cert_file: is used with tls = "files" only; tls is "off"`},
		{"a host with a scheme", "[web]\nhosts = [\"http://kitchen.example\"]\n", `"http://kitchen.example" is not a host name`},
		{"an address without a port", "[web]\nlisten = \"127.0.0.1\"\n", "is not an address to listen on"},
		{"a port beyond the last", "[metrics]\nlisten = \":65536\"\n", "is not an address to listen on"},
		{"a prefix with a wildcard", "[mqtt]\nprefix = \"a/#\"\n", `"a/#" cannot start a topic`},
		{"listening with TLS and no certificate", "[mqtt]\nlisten_tls = \"127.0.0.1:8883\"\n", "mqtt.cert_file: must be given with listen_tls"},
		{"another broker and our own listener", "[mqtt]\nurl = \"mqtt://broker.example\"\nlisten = \"127.0.0.1:1883\"\n", "names another broker, but listen is for the one inside leavend"},
		{"an authority for our own broker", "[mqtt]\nca_file = \"ca\"\n", "ca_file: is for another broker"},
		{"a password and no user", "[mqtt]\npassword_env = \"X\"\n", "mqtt.user: must be given with password"},
		{"a reminder quicker than a minute", "[[notify]]\nname=\"a\"\nurl_env=\"X\"\nrepeat_every=\"30s\"\n", "repeat_every: 30s is below the limit 1m; 0s is never"},
		{"half of the quiet hours", "[[notify]]\nname=\"a\"\nurl_env=\"X\"\nquiet_from=\"22:00\"\n", "quiet_from and quiet_to must be given together"},
		{"a taper without a height", "[[vessel]]\nname=\"B\"\ndistance=\"a\"\nbore_top_mm=80\n", "needs bore_bottom_mm and height_mm with it"},
		{"a floor nearer than the rim", "[[vessel]]\nname=\"B\"\ndistance=\"a\"\nfloor_mm=60\nheight_mm=150\n", "floor_mm: 60 mm is less than half the vessel's height_mm"},
		{"a slug with capitals", "[[vessel]]\nname=\"B\"\nslug=\"B b\"\ndistance=\"a\"\n", `"B b" may have only a to z, 0 to 9 and hyphens between them; "b-b" would do`},
		{"a name without an end", "[[vessel]]\nname=\"" + strings.Repeat("x", 41) + "\"\ndistance=\"a\"\n", "is longer than 40 letters"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, err := Parse([]byte(tt.text), "leavend.toml")
			switch {
			case tt.want == "" && err != nil:
				t.Errorf("got %v, want no error", err)
			case tt.want != "" && (err == nil || !strings.Contains(err.Error(), tt.want)):
				t.Errorf("got %v, want a message with %q", err, tt.want)
			}
		})
	}
}

// What is allowed and yet not wise with a heater is said, on the line that a
// baker would change.
func TestDoubtsAboutTheMat(t *testing.T) {
	tests := []struct{ name, text, key, want string }{
		{"no probe on the mat", kitchenFile, "mat.mat_probe", "cutoff_mat_c has nothing to watch"},
		{"a line that is pulled up at the start", strings.Replace(kitchenFile, "17", "4", 1), "mat.line", "the mat may heat before leavend runs"},
		{"a line of the console", strings.Replace(kitchenFile, "17", "14", 1), "mat.line", "serial console"},
		{"a plug without a login", strings.Replace(plugFile, "user = \"oven\"\npassword_env = \"Y\"\n", "", 1), "mat.plug.user", "the plug has no login of its own"},
		{"a broker that the plug cannot reach", strings.Replace(strings.Replace(plugFile, "user = \"oven\"\npassword_env = \"Y\"\n", "", 1), ":1883", "127.0.0.1:1883", 1), "mqtt.listen", "so no other device reaches it"},
		{"a plug that is not used", kitchenFile + "[mat.plug]\nrecipe = \"tasmota\"\n", "mat.plug.recipe", `mat.output is "gpio", so it is not used`},
		{"a sensor that is not used", kitchenFile + "[[sensor]]\nname = \"spare\"\nchip = \"sht4x\"\n", "sensor[spare].name", "no vessel and no mat uses this sensor"},
		{"a bus without a sensor", "[[i2c]]\nbus = 3\nfree_scl = 5\nfree_sda = 6\n", "i2c[1].free_scl", "no sensor is on I²C bus 3"},
		{"a password in the clear", "[mqtt]\nurl = \"mqtt://broker.example\"\nuser = \"u\"\npassword_env = \"X\"\n", "mqtt.url", "sends the password over the network unencrypted"},
		{"an address of a recipient in the file", "[[notify]]\nname = \"a\"\nurl = \"https://push.example\"\n", "notify[a].url", "keeps it from anyone who reads the configuration"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			c, err := Parse([]byte(tt.text), "leavend.toml")
			if err != nil {
				t.Fatal(err)
			}
			for _, w := range c.Warnings {
				if w.Key == tt.key && strings.Contains(w.String(), tt.want) {
					if w.Line == 0 && tt.key != "mat.mat_probe" && tt.key != "mat.plug.user" {
						t.Errorf("it names no line: %s", w)
					}
					return
				}
			}
			t.Errorf("got %v, want a doubt about %s with %q", c.Warnings, tt.key, tt.want)
		})
	}
}

// A warning stands on its own line, and a sound file has none.
func TestNoDoubtsWhereAllIsWell(t *testing.T) {
	c, err := Parse([]byte(plugFile), "leavend.toml")
	if err != nil {
		t.Fatal(err)
	}
	for _, w := range c.Warnings {
		t.Errorf("doubted: %s", w)
	}
}
