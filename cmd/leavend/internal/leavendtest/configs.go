package leavendtest

import (
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/config/configtest"
)

// NoNetwork is what every config of these tests ends with: a goroutine that
// waits for the network would hold up virtual time.
const NoNetwork = "[mqtt]\non = false\n[web]\non = false\n[metrics]\non = false\n"

// JarConfig watches one jar of the demo kitchen, on its mat.
func JarConfig(dir string) string {
	return fmt.Sprintf(`data_dir = %q
[[sensor]]
name = "eye"
chip = "kitchen"
[[vessel]]
name = "Bramble"
distance = "eye"
temperature = "eye"
floor_mm = 215
[mat]
output = "kitchen"
vessel = "Bramble"
setpoint_c = 26
`, dir) + NoNetwork
}

// ThursdayEvening is 18:04 in Oslo; the loaf is wanted on Saturday at 07:30.
var ThursdayEvening = time.Date(2026, 11, 26, 17, 4, 0, 0, time.UTC)

// PlanConfig is an invented kitchen; more is put behind it.
const PlanConfig = `timezone = "Europe/Oslo"
[[sensor]]
name = "eye"
chip = "kitchen"
[[vessel]]
name = "Bramble"
distance = "eye"
temperature = "eye"
`

// PlanMat is the mat that belongs to PlanConfig.
const PlanMat = "[mat]\noutput = \"kitchen\"\n"

// PlanBowl is a bowl beside the jar.
const PlanBowl = `[[sensor]]
name = "nose"
chip = "kitchen"
[[vessel]]
name = "Trough"
kind = "bowl"
distance = "nose"
temperature = "nose"
`

// MatConfig is a jar with its own sensors, on a mat that a GPIO line switches.
const MatConfig = `
[[sensor]]
name = "probe"
chip = "ds18b20"
[[sensor]]
name = "eye"
chip = "vl53l1x"
[[vessel]]
name = "Bramble"
distance = "eye"
temperature = "probe"
[mat]
output = "gpio"
line = 17
`

// MatConfigFile writes a config with a mat and no jar to a file of its own, and
// loads it.
func MatConfigFile(t *testing.T) *config.Config {
	t.Helper()
	file := filepath.Join(t.TempDir(), "leavend.toml")
	configtest.WriteFile(t, file, `data_dir = "data"
[[sensor]]
name = "probe" # in the jar
chip = "ds18b20"
[mat]
output = "gpio"
line = 17
probe = "probe"
setpoint_c = 26
`+NoNetwork)
	conf, err := config.Load(file)
	if err != nil {
		t.Fatal(err)
	}
	return conf
}
