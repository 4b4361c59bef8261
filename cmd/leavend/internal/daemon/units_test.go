package daemon

import (
	"math"
	"regexp"
	"strings"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/check"
	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/config/configtest"
	"leavend/cmd/leavend/internal/hardware"
	"leavend/cmd/leavend/internal/heating"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/control"
	"leavend/peak"
)

// In a kitchen that reads Fahrenheit nothing that the mat and the sensors say
// is in Celsius or millimetres.
func TestFahrenheitEverywhere(t *testing.T) {
	conf := configtest.Parse(t, "units = \"us\"\n[[sensor]]\nname = \"probe\"\nchip = \"ds18b20\"\n[mat]\noutput = \"gpio\"\nline = 17\nprobe = \"probe\"\nsetpoint_c = \"79F\"\n")
	w, err := heating.NewMat(conf, &control.Dry{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	var all []string
	for _, r := range check.Explain(conf) {
		all = append(all, r.Says.In(conf.Reader()), r.Do.In(conf.Reader()))
	}
	all = append(all,
		heating.Why(control.State{Unreachable: true, ExpectC: 23.5}).In(conf.Reader()),
		w.AskSetpoint(w.State().At, 60).Error(),
		check.Readings("probe", "temperature", []float64{25, 25.1}, nil).Says.In(conf.Reader()),
		check.Readings("eye", "distance", []float64{100, 101}, nil).Says.In(conf.Reader()),
		hardware.WouldAverage(make([]float64, 30), 0).In(conf.Reader()),
	)
	for _, r := range control.Reasons() {
		all = append(all, heating.Why(control.State{Reason: r}).In(conf.Reader()))
	}
	for _, k := range control.FaultKinds() {
		what, do := heating.FaultText(k)
		all = append(all, what.In(conf.Reader()), do.In(conf.Reader()))
	}
	all = append(all, heating.Why(control.State{FreeAt: time.Date(2026, 1, 5, 18, 9, 20, 0, conf.Timezone)}).In(conf.Reader()))
	v := monitor.NewVessel(config.Vessel{Name: "Bramble"}, nil)
	v.Reader = conf.Reader()
	all = append(all, v.Sentence(peak.Event{Kind: peak.EventPeak, PeakAt: time.Now(), RiseMM: 60, RiseRatio: math.NaN()}).In(conf.Reader()))
	text := strings.Join(all, "\n")
	if m := regexp.MustCompile(`.*([0-9] ?°C|[0-9] mm).*`).FindString(text); m != "" {
		t.Errorf("metric: %s", m)
	}
	for _, want := range []string{"79.0 °F", "expect 74.3 °F", "setpoint 140.0 °F is outside", "up 2.4 in", "it may come on again at 18:10"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is not said in:\n%s", want, text)
		}
	}
}
