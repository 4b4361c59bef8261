package daemon

import (
	"os"
	"strings"
	"testing"

	"leavend/cmd/leavend/internal/check"
	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/config/configtest"
	"leavend/cmd/leavend/internal/setup"
	"leavend/cmd/leavend/internal/text"
	"leavend/sensor"
)

// What is proposed is read back by the config's own reader, and names what
// answers on the board; put into the file, nothing is left to propose.
func TestPropose(t *testing.T) {
	w, file, _ := newTestWalk(t, "")
	said, err := setup.Propose(w.Survey, file, text.Reader{})
	if err != nil {
		t.Fatal(err)
	}
	before, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	after := string(before) + said
	c, err := config.Parse([]byte(after), file)
	if err != nil {
		t.Fatalf("%v in\n%s", err, said)
	}
	eye, _ := c.Sensor("eye")
	probe, _ := c.Sensor("probe")
	if len(c.Sensors) != 2 || eye.Chip != config.VL53L0X || eye.Bus != 1 || eye.Address != 0x29 || probe.Chip != config.DS18B20 || probe.ID != "28-0316a279d5ff" {
		t.Errorf("read back: %+v", c.Sensors)
	}
	if len(c.Vessels) != 1 || c.Vessels[0].Distance != "eye" || c.Vessels[0].Temperature != "probe" {
		t.Errorf("read back: %+v", c.Vessels)
	}
	configtest.WriteFile(t, file, after)
	if said, err = setup.Propose(w.Survey, file, text.Reader{}); err != nil || strings.Contains(said, "[[") {
		t.Errorf("a second time: %q, %v", said, err)
	}
	if said, err = setup.Propose(w.Survey, file+"-none", text.Reader{}); err != nil || !strings.Contains(said, "[[vessel]]") {
		t.Errorf("without a file: %q, %v", said, err)
	}
}

// A ranger that was given another address is no sensor without its line.
func TestProposeMovedRanger(t *testing.T) {
	f := setup.Find{Chip: config.VL53L1X, Measures: sensor.Distance, Settings: []config.Setting{{Key: "address", Value: "0x30"}}}
	if !f.Moved() {
		t.Error("a ranger at 0x30 is taken for one at its place")
	}
}

// What a scan finds becomes a sensor that the baker would recognise.
func TestNameFind(t *testing.T) {
	for chip, want := range map[string]string{
		"vl53l1x":     "VL53L1X laser ranger (i2c-1-0x40)",
		"sht3x":       "SHT3x for the temperature and humidity of the air (i2c-1-0x40)",
		"bme280":      "BME280 for the temperature and humidity of the air (i2c-1-0x40)",
		"bmp280":      "BMP280 for the temperature of the air (i2c-1-0x40)",
		"ads1115-ntc": "ADS1115 converter for thermistors (i2c-1-0x40)",
	} {
		if f, ok := setup.NameFind(1, check.Found{Address: 0x40, Chip: chip}, map[string]bool{}); !ok || f.Says().In(text.Reader{}) != want {
			t.Errorf("%s: got %q, want %q", chip, f.Says().In(text.Reader{}), want)
		}
	}
}
