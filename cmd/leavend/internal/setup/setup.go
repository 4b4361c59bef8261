// Package setup finds the sensors on a board that no config names yet, and writes
// a config from what the baker answers.
package setup

import (
	"context"
	"errors"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"leavend/cmd/leavend/internal/check"
	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/hardware"
	"leavend/cmd/leavend/internal/heating"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/notify"
	"leavend/cmd/leavend/internal/text"
	"leavend/cmd/leavend/internal/web"
	"leavend/sensor"
)

// Setup sets up a vessel from the page. It reads the board and the config
// again for every question, so that nothing it says is old.
type Setup struct {
	accepted func(context.Context) error // notes that a person accepted the cautions
	log      *slog.Logger
	file     string // the config
	m        *monitor.Monitor
	Survey   Scanner
	Open     func(config.Sensor) ([]hardware.Channel, func() error, error)
	restart  func(before []byte) // restarts the daemon; before is the config as it was

	mu sync.Mutex // one question to the board at a time
}

// New returns the walk of a daemon that runs on this board.
func New(m *monitor.Monitor, accepted func(context.Context) error, restart func([]byte)) *Setup {
	return &Setup{
		file: m.Conf.File, m: m, accepted: accepted, log: m.Log, restart: restart,
		Survey: Scanner{Board: check.ThisBoard(), I2c: check.OpenI2C, Pause: time.Sleep},
		Open: func(s config.Sensor) ([]hardware.Channel, func() error, error) {
			bench := &hardware.Registry{Clock: event.NewClock(time.Now(), 1)}
			bench.Prepare([]config.Sensor{s})
			wires, err := bench.Open(s)
			return wires, bench.Close, err
		},
	}
}

// quietLines are the header's GPIO lines that a Raspberry Pi pulls low while
// it starts (BCM2835 peripherals, table of the alternative functions, pull
// column) and that no bus of the config's defaults uses.
var quietLines = []int{16, 17, 18, 19, 20, 21, 22, 23, 24, 25, 26, 27, 12, 13}

// Found looks at what hangs on the board.
func (w *Setup) Found(_ context.Context, language string) (web.WalkFound, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	conf, _, err := w.present()
	if err != nil {
		return web.WalkFound{}, err
	}
	finds, amiss := w.Survey.look(conf)
	reader := conf.Reader()
	reader.Language = language
	out := web.WalkFound{
		Lines: quietLines, HasMat: conf.Mat.Heats(), Cautions: heating.CautionLines(reader), CautionsSay: heating.Cautions(),
		Recipes: []string{string(config.Tasmota), string(config.Shelly), string(config.Zigbee2MQTT), string(config.ESPHome)},
		Blocked: w.Blocked(),
	}
	for _, f := range finds {
		out.Sensors = append(out.Sensors, web.WalkSensor{Key: f.Key, Says: f.Says().In(reader), Measures: f.Measures.String()})
	}
	for _, r := range amiss {
		out.Amiss = append(out.Amiss, web.Check{Group: "sensors", Name: r.Heading(reader), State: "bad", Says: r.Says.In(reader), Do: r.Do.In(reader)})
	}
	for _, v := range conf.Vessels {
		out.Vessels = append(out.Vessels, v.Name)
	}
	return out, nil
}

// present reads the config as it stands in its file.
func (w *Setup) present() (*config.Config, []byte, error) {
	before, err := os.ReadFile(w.file)
	if err != nil {
		return nil, nil, &failure.Refusal{Code: "config", Say: text.Say("refused.config_unread", text.Cause("err", err))}
	}
	conf, err := config.Parse(before, w.file)
	if err != nil {
		return nil, nil, &failure.Refusal{Code: "config", Say: text.Say("refused.config_bad", text.Cause("err", err))}
	}
	return conf, before, nil
}

// Blocked is the code of why the config could not be written; "" when it can.
func (w *Setup) Blocked() string {
	path := w.file
	if real, err := filepath.EvalSymlinks(path); err == nil {
		path = real
	}
	f, err := os.CreateTemp(filepath.Dir(path), ".leavend-*")
	if err != nil {
		return "blocked"
	}
	_ = errors.Join(f.Close(), os.Remove(f.Name())) // it was made to see whether it can be
	return ""
}

// WalkReads is how often Measure reads a sensor.
const WalkReads = 9

// Measure reads a sensor that was found, a few times.
func (w *Setup) Measure(ctx context.Context, key string) (web.WalkReading, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	conf, file, err := w.present()
	if err != nil {
		return web.WalkReading{}, err
	}
	found, err := w.find(conf, key)
	if err != nil {
		return web.WalkReading{}, err
	}
	file, err = config.Edit(file, w.file, "sensor", found.Name, found.Settings...)
	if err != nil {
		return web.WalkReading{}, &failure.Refusal{Code: "config", Say: problems(err)}
	}
	if conf, err = config.Parse(file, w.file); err != nil {
		return web.WalkReading{}, &failure.Refusal{Code: "config", Say: problems(err)}
	}
	i := slices.IndexFunc(conf.Sensors, func(s config.Sensor) bool { return s.Name == found.Name })
	wires, done, err := w.Open(conf.Sensors[i])
	if err != nil {
		return web.WalkReading{}, &failure.Refusal{Code: "sensor", Say: text.Say("refused.sensor_closed", text.Cause("err", err))}
	}
	defer done()
	for _, wire := range wires {
		if wire.Quantity == found.Measures {
			return reading(ctx, wire)
		}
	}
	return web.WalkReading{}, failure.ErrUnknown
}

// reading reads a wire and returns the middle of what it said.
func reading(ctx context.Context, from hardware.Channel) (web.WalkReading, error) {
	ctx, cancel := context.WithTimeout(ctx, 20*time.Second) // below the page's own limit
	defer cancel()
	values, errs := hardware.ReadSome(ctx, from.Source, WalkReads)
	if len(values) == 0 {
		return web.WalkReading{}, &failure.Refusal{Code: "sensor", Say: text.Say("refused.sensor_silent", text.Cause("err", errs[0]))}
	}
	slices.Sort(values)
	out := web.WalkReading{Value: web.Real(values[len(values)/2]), Spread: web.Real(values[len(values)-1] - values[0]), Unit: "mm", Taken: len(values), Failed: len(errs)}
	if from.Quantity == sensor.Temperature {
		out.Unit = "°C"
	}
	return out, nil
}

// find looks for a sensor once more, by its key.
func (w *Setup) find(conf *config.Config, key string) (Find, error) {
	finds, _ := w.Survey.look(conf)
	i := slices.IndexFunc(finds, func(f Find) bool { return f.Key == key })
	if i < 0 {
		return Find{}, &failure.Refusal{Code: "sensor", Say: text.Say("refused.sensor_gone", text.Name("key", key))}
	}
	return finds[i], nil
}

// Draft says what Keep would write.
func (w *Setup) Draft(_ context.Context, language string, a web.WalkAnswers) (web.WalkDraft, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	before, after, secret, err := w.write(a)
	if err != nil {
		return web.WalkDraft{}, err
	}
	out := web.WalkDraft{Difference: config.Difference(before, after)}
	say := func(m text.Message) { out.Notes = append(out.Notes, m.In(text.Reader{Language: language})) }
	if secret.text != "" {
		say(text.Say("new_vessel.note_address", text.Name("file", filepath.Base(secret.file))))
	}
	if a.FloorMM == 0 {
		say(text.Say("new_vessel.note_depth"))
	}
	conf, err := config.Parse(after, w.file)
	if err != nil {
		return out, &failure.Refusal{Code: "config", Say: problems(err)}
	}
	for _, warning := range conf.Warnings {
		say(warning.Explain())
	}
	return out, nil
}

// Keep writes the config and has the daemon start again.
func (w *Setup) Keep(ctx context.Context, a web.WalkAnswers) error {
	w.mu.Lock()
	defer w.mu.Unlock()
	before, after, secret, err := w.write(a)
	if err != nil {
		return err
	}
	if err := secret.save(); err != nil {
		return &failure.Refusal{Code: "config", Say: text.Say("refused.address_unsaved", text.Cause("err", err))}
	}
	begin, err := w.keepText(before, after)
	if err != nil {
		secret.remove()
		return err
	}
	if a.Mat != "none" {
		if err := w.accepted(ctx); err != nil {
			w.log.Error("that the cautions are accepted could not be stored", "err", err)
		}
	}
	w.log.Info("set-up from the page; restarting", "vessel", a.Name)
	begin()
	return nil
}

// write returns the config as it is and as the answers would make it, and the
// secret that has to go into a file beside it.
func (w *Setup) write(a web.WalkAnswers) (before, after []byte, of secret, err error) {
	conf, before, err := w.present()
	if err != nil {
		return nil, nil, of, err
	}
	edits, of, err := w.edits(conf, a)
	if err != nil {
		return nil, nil, of, err
	}
	after = before
	for _, e := range edits {
		slices.Reverse(e.settings) // each new key goes right behind the name
		if after, err = config.Edit(after, w.file, e.table, e.name, e.settings...); err != nil {
			return nil, nil, of, &failure.Refusal{Code: "config", Say: problems(err)}
		}
	}
	return before, after, of, nil
}

// problems says what is wrong with a config without its file and lines, which the baker
// on the page does not see.
func problems(err error) text.Message {
	var all *config.Error
	if !errors.As(err, &all) {
		return text.Explain(err)
	}
	var found []text.Message
	for _, p := range all.Problems {
		found = append(found, p.Say)
	}
	return text.Say("refused.config", text.List("all", found))
}

// save writes the config.
func (w *Setup) save(after []byte) error {
	err := config.Save(w.file, after)
	switch {
	case err == nil:
		return nil
	case errors.Is(err, fs.ErrPermission):
		return &failure.Refusal{Code: "blocked"}
	}
	return &failure.Refusal{Code: "config", Say: text.Explain(err)}
}

// edit is a change of one table of the config.
type edit struct {
	table, name string
	settings    []config.Setting
}

// edits turns the answers into changes of the config.
func (w *Setup) edits(conf *config.Config, a web.WalkAnswers) (out []edit, of secret, err error) {
	if slices.ContainsFunc(conf.Vessels, func(v config.Vessel) bool { return v.Name == a.Name }) {
		return nil, of, &failure.Refusal{Code: "name", Say: text.Say("refused.name_taken", text.Name("name", a.Name))}
	}
	vessel := []config.Setting{{Key: "kind", Value: strconv.Quote(string(a.Kind))}}
	for _, s := range []struct {
		key, use string
		of       sensor.Quantity
	}{{a.Distance, "distance", sensor.Distance}, {a.Temperature, "temperature", sensor.Temperature}} {
		if s.key == "" {
			continue
		}
		found, err := w.find(conf, s.key)
		if err != nil {
			return nil, of, err
		}
		if found.Measures != s.of {
			return nil, of, &failure.Refusal{Code: "sensor", Say: text.Say("refused.sensor_other", text.Name("key", s.key))}
		}
		if s.of == sensor.Temperature {
			found = found.at(sensor.AtVessel)
		}
		out = append(out, edit{"sensor", found.Name, found.Settings})
		vessel = append(vessel, config.Setting{Key: s.use, Value: strconv.Quote(found.Name)})
	}
	for _, length := range []struct {
		key string
		mm  web.Real
	}{{"floor_mm", a.FloorMM}, {"height_mm", a.HeightMM}, {"bore_bottom_mm", a.BoreMM}} {
		if length.mm > 0 {
			vessel = append(vessel, config.Setting{Key: length.key, Value: strconv.FormatFloat(float64(length.mm), 'f', 1, 64)})
		}
	}
	out = append(out, edit{"vessel", a.Name, vessel})
	mat, err := matEdits(conf, a)
	if err != nil {
		return nil, of, err
	}
	out = append(out, mat...)
	if a.US && conf.Units != config.US {
		out = append(out, edit{"", "", []config.Setting{{Key: "units", Value: `"us"`}}})
	}
	if tell := strings.TrimSpace(a.Tell); tell != "" {
		if _, err := notify.Open(tell, ""); err != nil {
			return nil, of, &failure.Refusal{Code: "tell", Say: text.Say("refused.tell_address", text.Cause("err", err))}
		}
		if slices.ContainsFunc(conf.Notify, func(r config.Recipient) bool { return r.Name == "phone" }) {
			return nil, of, &failure.Refusal{Code: "tell", Say: text.Say("refused.tell_phone")}
		}
		of = w.newSecret(tell)
		out = append(out, edit{"notify", "phone", []config.Setting{{Key: "url_file", Value: strconv.Quote(filepath.Base(of.file))}}})
	}
	return out, of, nil
}

// at puts a thermometer at another place.
func (f Find) at(place sensor.Place) Find {
	f.Settings = slices.Clone(f.Settings)
	for i, s := range f.Settings {
		if s.Key == "place" {
			f.Settings[i].Value = strconv.Quote(string(place))
		}
	}
	return f
}

// matEdits chooses what switches the mat, if one is wanted.
func matEdits(conf *config.Config, a web.WalkAnswers) ([]edit, error) {
	if a.Mat == "none" {
		return nil, nil
	}
	switch {
	case conf.Mat.Heats():
		return nil, &failure.Refusal{Code: "mat", Say: text.Say("refused.mat_there")}
	case a.Temperature == "":
		return nil, &failure.Refusal{Code: "mat", Say: text.Say("refused.mat_probe")}
	case !a.Cautions:
		return nil, &failure.Refusal{Code: "cautions"}
	}
	vessel := config.Setting{Key: "vessel", Value: strconv.Quote(a.Name)}
	output := config.Setting{Key: "output", Value: strconv.Quote(a.Mat)}
	if a.Mat == "gpio" {
		return []edit{{"mat", "", []config.Setting{output, {Key: "line", Value: strconv.Itoa(a.Line)}, vessel}}}, nil
	}
	plug := []config.Setting{{Key: "recipe", Value: strconv.Quote(a.Recipe)}, {Key: "topic", Value: strconv.Quote(a.Topic)}}
	// The plug's own table has to follow that of the mat, and the output names
	// it last, for each step has to be sound.
	return []edit{{"mat", "", []config.Setting{vessel}}, {"mat.plug", "", plug}, {"mat", "", []config.Setting{output}}}, nil
}
