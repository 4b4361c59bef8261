package peak

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"sync"
	"testing"
	"time"

	"leavend/peak/network"
)

// The seeds of what is learnt from and of what limits are chosen on. Reports
// use others.
const (
	lessonSeed = 4100
	chooseSeed = 4200
)

// trainCommand makes weights.f32 and weights.json again.
const trainCommand = "LEAVEND_TRAIN=1 go test -run '^TestTrain$' -v -timeout 60m ./peak"

// manifest is what stands beside the weights.
type manifest struct {
	Command  string         `json:"command"`
	SHA256   string         `json:"sha256"`
	Sections []manifestPart `json:"sections"`
}

type manifestPart struct {
	Name   string `json:"name"`
	Floats int    `json:"floats"`
	Shape  []int  `json:"shape,omitempty"`
}

// encode lays the model out as the weight file has it, with its manifest.
func (m *model) encode() ([]byte, manifest) {
	var b bytes.Buffer
	var parts []manifestPart
	shapes := map[string][]int{}
	for name, n := range map[string]network.Network{"call": m.call, "forecast": m.forecast, "bowl": m.bowl} {
		shapes[name] = n.Shape[:]
	}
	for _, s := range m.sections() {
		binary.Write(&b, binary.LittleEndian, (*s.data)[:s.n])
		parts = append(parts, manifestPart{s.name, s.n, shapes[s.name]})
	}
	sum := sha256.Sum256(b.Bytes())
	return b.Bytes(), manifest{trainCommand, hex.EncodeToString(sum[:]), parts}
}

// TestWeightFile holds the weight file, its manifest and the code together.
func TestWeightFile(t *testing.T) {
	raw, err := os.ReadFile("weights.json")
	if err != nil {
		t.Fatal(err)
	}
	var got manifest
	if err := json.Unmarshal(raw, &got); err != nil {
		t.Fatal(err)
	}
	file, want := learnt().encode()
	if !bytes.Equal(file, weightFile) {
		t.Errorf("the file has %d bytes, the networks want %d; run %s", len(weightFile), len(file), trainCommand)
	}
	if fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("manifest: got %+v, want %+v; run %s", got, want, trainCommand)
	}
	if n := learnt().call.Size() + learnt().forecast.Size() + learnt().bowl.Size(); n > 3000 {
		t.Errorf("the networks have %d weights, want at most 3000", n)
	}
}

// TestTrain makes everything that is learnt, in one go and the same bytes on
// every amd64 machine. LEAVEND_TRAIN may be a share of the usual amounts, for a
// trial; LEAVEND_OUT another folder. LEAVEND_TAUGHT learns from the reported kinds too:
// what such a network reaches on them is a bound for any that does not know them.
func TestTrain(t *testing.T) {
	share, err := strconv.ParseFloat(os.Getenv("LEAVEND_TRAIN"), 64)
	if err != nil {
		t.Skip("set LEAVEND_TRAIN=1 to make the weights again; it takes a quarter of an hour on two cores")
	}
	kinds, dir := learnKinds, os.Getenv("LEAVEND_OUT")
	if os.Getenv("LEAVEND_TAUGHT") != "" {
		if dir == "" {
			t.Fatal("what is taught the reported kinds is for a bound alone; set LEAVEND_OUT")
		}
		kinds = slices.Concat(learnKinds, reportKinds, reportKinds)
	}
	began := time.Now()
	step := func(format string, args ...any) {
		t.Logf("%6.1f s  "+format, append([]any{time.Since(began).Seconds()}, args...)...)
	}
	part := func(n int) int { return max(1, int(share*float64(n))) }
	a := amounts{kitchen: part(lessons.kitchen), kinds: part(lessons.kinds), blends: part(lessons.blends), quiet: part(lessons.quiet), histories: part(lessons.histories), catalogue: part(lessons.catalogue)}
	chosen := gather(amounts{kitchen: part(1000), kinds: part(350), quiet: part(500), histories: part(200), usual: true}, chooseKinds, chooseSeed)
	step("to choose by: %s", describe(chosen))
	m := decodeModel(nil)
	var call, forecast *learner
	if trial != nil { // its networks are kept and the widths chosen again
		call, forecast = asLearner(trial.call), asLearner(trial.forecast)
		copy(m.bowl.Weights, trial.bowl.Weights)
	} else {
		rides := gather(a, kinds, lessonSeed)
		step("to learn from: %s", describe(rides))
		var wg sync.WaitGroup
		wg.Go(func() { call = learnCall(rides, callSeed, callEpochs) })
		wg.Go(func() { forecast = learnForecast(rides, 1, forecastEpochs) })
		wg.Wait()
		copy(m.bowl.Weights, learnBowl(gatherBowls(bowlKinds, part(100), lessonSeed), 1, 12).w)
	}
	copy(m.call.Weights, call.kept(callOuts))
	scores := call.scores(chosen)
	chooseLimits(chosen, scores, m)
	step("call: limits %.3f, %v\n%s", m.limits[:2], sharesAt(chosen, scores, m, func(*ride) bool { return true }), byKind(chosen, scores, m))
	copy(m.forecast.Weights, forecast.w)
	ahead := forecast.lookAhead(chosen)
	chooseWidths(ahead, m)
	chooseBowlWidths(asLearner(m.bowl), gatherBowls(chooseKinds, part(100), chooseSeed), m)
	step("widths %.2f\n%s", m.limits[limitNew:], describeWidths(ahead, m))
	file, about := m.encode()
	raw, _ := json.MarshalIndent(about, "", "  ")
	for name, b := range map[string][]byte{"weights.f32": file, "weights.json": append(raw, '\n')} {
		if err := os.WriteFile(filepath.Join(dir, name), b, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	trial = m
}

const (
	callSeed       = 2
	callEpochs     = 40
	forecastEpochs = 9
)

// trial is a model that tests use in place of the embedded one, if any.
var trial *model

// newTried returns a detector with the model that is on trial.
func newTried(o Opts) *Detector {
	d := New(o)
	if trial != nil {
		d.model = trial
	}
	return d
}

// TestMain lets a model on trial be judged before it is embedded:
// LEAVEND_WEIGHTS names its file.
func TestMain(m *testing.M) {
	if name := os.Getenv("LEAVEND_WEIGHTS"); name != "" {
		raw, err := os.ReadFile(name)
		if err != nil {
			panic(err)
		}
		trial = decodeModel(raw)
	}
	os.Exit(m.Run())
}
