package peak

import (
	"encoding/binary"
	"math"
	"strings"
	"testing"
	"time"
)

// FuzzDetector feeds the detector any sequence of steps in time, heights,
// temperatures and marks. It must not panic, must keep its events in order
// and within the contract, and must not call twice on a feed; see checkStream.
func FuzzDetector(f *testing.F) {
	for _, rec := range []invented{single(families[1], 22), single(families[3], 23), several(families[0], 33, 2, false)} {
		f.Add(packed(rec.rows))
	}
	f.Add([]byte{})
	f.Add([]byte{0, 1, 2, 3, 4, 5, 6, 7, 255, 255, 0x7f, 0xf0, 1, 128, 0, 0})
	f.Fuzz(func(t *testing.T, raw []byte) {
		for _, o := range []Opts{{}, {Kind: Bowl, FloorKnown: true}} {
			checkStream(t, New(o), raw)
		}
	})
}

// A packed row is four bytes: a code for the step in time, the height in
// tenths of a mm, and the temperature in °C; some codes are trouble.
const packedRow = 4

func packed(rows []sample) (out []byte) {
	last := rows[0].at
	for i, s := range rows {
		if i%12 != 0 && !s.fed { // thinned, to keep the corpus small
			continue
		}
		code := byte(min(s.at.Sub(last).Seconds()/4, 200))
		last = s.at
		if s.fed {
			code = 253
		}
		h := int16(-32768)
		if !math.IsNaN(s.height) {
			h = int16(s.height * 10)
		}
		out = append(out, code)
		out = binary.LittleEndian.AppendUint16(out, uint16(h))
		out = append(out, byte(s.temp*4))
	}
	return out
}

func checkStream(t *testing.T, d *Detector, raw []byte) {
	at := starts
	calls := 0
	check := func(events []Event) {
		for _, e := range events {
			switch e.Kind {
			case EventFed:
				calls = 0
			case EventFault:
				// After so long a blindness the jar may have been fed, and
				// what follows is a curve of its own.
				if strings.Contains(e.Fault.String(), "mark the next feed") {
					calls = 0
				}
			case EventPeak, EventTarget:
				if calls++; calls > 1 {
					t.Fatal("two calls on one feed")
				}
			case EventForecast:
				if e.Low.After(e.PeakAt) || e.PeakAt.After(e.High) {
					t.Fatalf("forecast %v outside of %v to %v", e.PeakAt, e.Low, e.High)
				}
			}
			if math.IsInf(e.RiseMM, 0) || math.IsNaN(e.RiseMM) {
				t.Fatalf("%v has the rise %v", e.Kind, e.RiseMM)
			}
		}
	}
	for ; len(raw) >= packedRow; raw = raw[packedRow:] {
		h := float64(int16(binary.LittleEndian.Uint16(raw[1:]))) / 10
		temp := float64(raw[3]) / 4
		switch code := raw[0]; {
		case code == 255:
			at = at.Add(-time.Hour)
		case code == 254:
			at = at.Add(20 * time.Hour)
		case code == 253:
			check(d.Fed(at))
		case code == 252:
			h = math.Inf(1)
		default:
			at = at.Add(time.Duration(code) * 4 * time.Second)
		}
		if h == -3276.8 {
			h = math.NaN()
		}
		check(d.Add(at, h, temp))
		d.Status()
		d.Forecast()
	}
	d.Record()
	d.History()
}

// FuzzFeed: a history that comes from a store may hold anything.
func FuzzFeed(f *testing.F) {
	f.Add(7.0, 24.0, 60.0, float32(0.5))
	f.Add(math.NaN(), math.Inf(1), -1.0, float32(math.NaN()))
	rec := single(families[1], 22)
	rec.rows = rec.rows[:len(rec.rows)/3]
	f.Fuzz(func(t *testing.T, warm, temp, rise float64, share float32) {
		past := Feed{WarmHours: warm, MeanTempC: temp, RiseMM: rise, Curve: make([]float32, curveParts)}
		for k := range past.Curve {
			past.Curve[k] = share * float32(k)
		}
		for _, e := range runInvented(rec, Opts{History: []Feed{past, past}}) {
			if e.Kind == EventForecast && (e.Low.After(e.PeakAt) || e.PeakAt.After(e.High)) {
				t.Fatalf("forecast %v outside of %v to %v", e.PeakAt, e.Low, e.High)
			}
		}
	})
}
