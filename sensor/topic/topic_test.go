package topic_test

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"leavend/sensor"
	"leavend/sensor/topic"
)

var temp = topic.Opts{Quantity: sensor.Temperature}

func with(change func(*topic.Opts)) topic.Opts { o := temp; change(&o); return o }

func TestMessage(t *testing.T) {
	now := time.Date(2026, time.July, 1, 12, 0, 0, 0, time.UTC) // no zone sets its clocks then
	stamped := with(func(o *topic.Opts) { o.Field, o.TimeField = "t", "at" })
	distance := topic.Opts{Quantity: sensor.Distance}
	tests := []struct {
		name    string
		opts    topic.Opts
		payload string
		retain  bool
		want    float64
		err     string
	}{
		{"a plain number", temp, " 23.4\n", false, 23.4, ""},
		{"a field", with(func(o *topic.Opts) { o.Field = "t" }), `{"t":23.4,"u":"x"}`, false, 23.4, ""},
		{"a number in quotes", with(func(o *topic.Opts) { o.Field = "t" }), `{"t":"23.4"}`, false, 23.4, ""},
		{"a path through a list", with(func(o *topic.Opts) { o.Field = "s.1.t" }), `{"s":[{"t":1},{"t":23.4}]}`, false, 23.4, ""},
		{"boiling water in °F", with(func(o *topic.Opts) { o.Unit = "F" }), "212", false, 100, ""},
		{"ice in K", with(func(o *topic.Opts) { o.Unit = "K" }), "273.15", false, 0, ""},
		{"a sixteenth scale", with(func(o *topic.Opts) { o.Scale = 1.0 / 16 }), "393", false, 24.5625, ""},
		{"centimetres", topic.Opts{Quantity: sensor.Distance, Unit: "cm"}, "13.9", false, 139, ""},
		{"an inch", topic.Opts{Quantity: sensor.Distance, Unit: "in"}, "1", false, 25.4, ""},
		{"a kept message with its time", stamped, fmt.Sprintf(`{"t":23.4,"at":%d}`, now.Unix()), true, 23.4, ""},
		{"milliseconds", stamped, fmt.Sprintf(`{"t":23.4,"at":%d}`, now.UnixMilli()), false, 23.4, ""},
		{"RFC 3339", stamped, fmt.Sprintf(`{"t":23.4,"at":%q}`, now.Format(time.RFC3339)), false, 23.4, ""},
		{"a zone without a colon", stamped, fmt.Sprintf(`{"t":23.4,"at":%q}`, now.In(time.FixedZone("", 3600)).Format("2006-01-02T15:04:05-0700")), false, 23.4, ""},
		{"no zone", stamped, fmt.Sprintf(`{"t":23.4,"at":%q}`, now.Local().Format("2006-01-02T15:04:05.000")), false, 23.4, ""},
		{"no zone and no T", stamped, fmt.Sprintf(`{"t":23.4,"at":%q}`, now.Local().Format(time.DateTime)), false, 23.4, ""},

		{"empty, as when a kept message is cleared", temp, "", true, 0, "topic k/t: the message is empty"},
		{"a word", temp, "unavailable", false, 0, `topic k/t: "unavailable" is no number`},
		{"a unit behind the number", temp, "23.4 C", false, 0, `topic k/t: "23.4 C" is no number`},
		{"not a number", temp, "NaN", false, 0, `topic k/t: "NaN" is no number`},
		{"infinity", temp, "Inf", false, 0, `topic k/t: "Inf" is no number`},
		{"a decimal comma", temp, "23,4", false, 0, `topic k/t: "23,4" is no number`},
		{"null", with(func(o *topic.Opts) { o.Field = "t" }), `{"t":null}`, false, 0, "topic k/t: t is no number"},
		{"a missing field", with(func(o *topic.Opts) { o.Field = "a.b" }), `{"a":{}}`, false, 0, `topic k/t: the message has no field "b" (of a.b)`},
		{"past a list's end", with(func(o *topic.Opts) { o.Field = "a.2" }), `{"a":[1,2]}`, false, 0, `topic k/t: the message has no element "2" (of a.2) in a list of 2`},
		{"a torn document", with(func(o *topic.Opts) { o.Field = "t" }), `{"t":23`, false, 0, "topic k/t: the message is no JSON: unexpected EOF"},
		{"two documents", with(func(o *topic.Opts) { o.Field = "t" }), `{"t":23}{"t":24}`, false, 0, "topic k/t: the message has text behind its JSON document"},
		{"kept by the broker", temp, "23.4", true, 0, "topic k/t: " + topic.ErrRetained.Error()},
		{"too hot for any probe", temp, "850", false, 0, "topic k/t: temperature 850 lies outside -40 to 125"},
		{"no target in sight", distance, "8190", false, 0, "topic k/t: distance 8190 lies outside 1 to 4000"},
		{"zero, as much firmware sends for no echo", distance, "0", false, 0, "topic k/t: distance 0 lies outside 1 to 4000"},
		{"a time that is none", stamped, `{"t":1,"at":"noon"}`, false, 0, `topic k/t: at: "noon" is no time: RFC 3339, with or without a zone, or seconds or milliseconds since 1970`},
		{"too long", temp, strings.Repeat("1", topic.MaxPayload+1), false, 0, "topic k/t: the message has 65537 bytes, more than 65536"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				time.Sleep(time.Until(now))
				s, err := topic.New("k/t", tt.opts)
				if err != nil {
					t.Fatal(err)
				}
				err = s.Message([]byte(tt.payload), now, tt.retain)
				if got := fmt.Sprint(err); err == nil && tt.err != "" || err != nil && got != tt.err {
					t.Fatalf("error %s, want %s", got, tt.err)
				}
				r, readErr := s.Read(t.Context())
				if fmt.Sprint(readErr) != fmt.Sprint(err) {
					t.Errorf("Read gives %v, Message gave %v", readErr, err)
				}
				if math.Abs(r.Value-tt.want) > 1e-12*math.Abs(tt.want) {
					t.Errorf("value %v, want %v", r.Value, tt.want)
				}
			})
		})
	}
}

func TestAge(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s, err := topic.New("k/t", temp)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := s.Read(t.Context()); !errors.Is(err, topic.ErrNone) {
			t.Errorf("before any message: %v", err)
		}
		first := time.Now()
		s.Message([]byte("23"), first, false)
		time.Sleep(2 * time.Minute)
		if r, err := s.Read(t.Context()); err != nil || !r.At.Equal(first) {
			t.Errorf("two minutes on: %+v, %v", r, err)
		}
		// A reconnect brings what the broker kept; the value in hand stays.
		if err := s.Message([]byte("99"), time.Now(), true); !errors.Is(err, topic.ErrRetained) {
			t.Errorf("kept message: %v", err)
		}
		if r, err := s.Read(t.Context()); err != nil || r.Value != 23 {
			t.Errorf("after a kept message: %+v, %v", r, err)
		}
		time.Sleep(time.Second)
		_, err = s.Read(t.Context())
		if want := "topic k/t: the last message is too old: 2m1s, the limit is 2m0s"; fmt.Sprint(err) != want {
			t.Errorf("got %v, want %s", err, want)
		}
		s.Message([]byte("gone"), time.Now(), false)
		if _, err := s.Read(t.Context()); err == nil {
			t.Error("the device said that it has no reading, and one was given")
		}
		s.Message([]byte("24"), time.Now(), false)
		if r, err := s.Read(t.Context()); err != nil || r.Value != 24 {
			t.Errorf("after a good message: %+v, %v", r, err)
		}
	})
}

func TestMessageTimes(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s, err := topic.New("k/t", with(func(o *topic.Opts) { o.Field, o.TimeField = "t", "at" }))
		if err != nil {
			t.Fatal(err)
		}
		now := time.Now()
		send := func(v int, at time.Time) error {
			return s.Message(fmt.Appendf(nil, `{"t":%d,"at":%q}`, v, at.Format(time.RFC3339Nano)), now, false)
		}
		if err := send(20, now.Add(-time.Minute)); err != nil {
			t.Error(err)
		}
		if r, _ := s.Read(t.Context()); !r.At.Equal(now.Add(-time.Minute)) {
			t.Errorf("taken at %v", r.At)
		}
		if err := send(21, now.Add(-90*time.Second)); err != nil {
			t.Error(err)
		}
		if r, _ := s.Read(t.Context()); r.Value != 20 {
			t.Errorf("a message out of order replaced a newer one: %v", r.Value)
		}
		if err := send(22, now.Add(30*time.Second)); err != nil {
			t.Error(err)
		}
		if r, _ := s.Read(t.Context()); r.Value != 22 || r.At.After(now) {
			t.Errorf("a clock half a minute ahead gave %v at %v", r.Value, r.At)
		}
		if err := send(23, now.Add(time.Hour)); err == nil {
			t.Error("a time an hour ahead was accepted")
		}
		if err := send(24, now.Add(-time.Hour)); err != nil {
			t.Error(err)
		}
		if _, err := s.Read(t.Context()); !errors.Is(err, topic.ErrOld) {
			t.Errorf("a reading an hour old: %v", err)
		}
	})
}

func TestNewRefuses(t *testing.T) {
	for name, opts := range map[string]topic.Opts{
		"no quantity":       {},
		"a length in °C":    {Quantity: sensor.Distance, Unit: "C"},
		"an unknown unit":   {Quantity: sensor.Temperature, Unit: "R"},
		"an infinite scale": {Quantity: sensor.Temperature, Scale: math.Inf(1)},
		"a negative age":    {Quantity: sensor.Temperature, MaxAge: -1},
	} {
		if _, err := topic.New("k/t", opts); err == nil {
			t.Errorf("%s: accepted", name)
		}
	}
}

func FuzzMessage(f *testing.F) {
	for _, s := range []string{"23.4", `{"t":23.4}`, `{"t":[1,2]}`, `[[[[1]]]]`, `{"t":"1e999"}`, `{"t":{"t":1}}`} {
		f.Add([]byte(s), "t", "")
	}
	f.Fuzz(func(t *testing.T, payload []byte, field, timeField string) {
		s, err := topic.New("k/t", with(func(o *topic.Opts) { o.Field, o.TimeField = field, timeField }))
		if err != nil {
			t.Fatal(err)
		}
		now := time.Now()
		err = s.Message(payload, now, false)
		r, readErr := s.Read(context.Background())
		if err != nil && readErr == nil {
			t.Fatalf("%q: refused with %v, yet read as %v", payload, err, r.Value)
		}
		if readErr == nil && !(r.Value >= -40 && r.Value <= 125 && !r.At.After(now)) {
			t.Fatalf("%q: gave %+v", payload, r)
		}
	})
}

func Example() {
	s, err := topic.New("kitchen/jar", topic.Opts{Quantity: sensor.Distance, Field: "tof.cm", Unit: "cm"})
	if err != nil {
		fmt.Println(err)
		return
	}
	s.Message([]byte(`{"tof":{"cm":13.9}}`), time.Now(), false)
	r, err := s.Read(context.Background())
	fmt.Println(r.Value, r.Quantity, err)
	// Output: 139 distance <nil>
}

// TestCoarse refuses distances in steps of 10 mm, as from firmware that sends
// metres with two decimals, once ten on end were so; a third decimal, or a
// number of whole millimetres, is fine. Numbers in JSON lose zeros at their
// end, so that one of ten looks coarse.
func TestCoarse(t *testing.T) {
	metres := topic.Opts{Quantity: sensor.Distance, Scale: 1000}
	tests := []struct {
		name    string
		opts    topic.Opts
		payload func(n int) string
		coarse  bool
	}{
		{"metres, two decimals", metres, func(n int) string { return fmt.Sprintf("0.%02d", 10+n%3) }, true},
		{"metres, three decimals", metres, func(n int) string { return fmt.Sprintf("0.18%d", n%3) }, false},
		{"metres, zeros dropped", metres, func(n int) string { return []string{"0.18", "0.181", "0.18", "0.18"}[n%4] }, false},
		{"whole centimetres", topic.Opts{Quantity: sensor.Distance, Unit: "cm"}, func(int) string { return "18" }, true},
		{"tenths of a centimetre", topic.Opts{Quantity: sensor.Distance, Unit: "cm"}, func(int) string { return "18.2" }, false},
		{"whole millimetres", topic.Opts{Quantity: sensor.Distance}, func(int) string { return "180" }, false},
		{"whole degrees", temp, func(int) string { return "21" }, false},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s, err := topic.New("k/t", tt.opts)
			if err != nil {
				t.Fatal(err)
			}
			var last error
			for n := range 40 {
				last = s.Message([]byte(tt.payload(n)), time.Now(), false)
				if n < 5 && last != nil {
					t.Fatalf("message %d: %v", n, last)
				}
			}
			if errors.Is(last, topic.ErrCoarse) != tt.coarse {
				t.Errorf("got %v", last)
			}
			if tt.coarse && !strings.Contains(last.Error(), "steps of 10 mm; have the device send millimetres, or metres with three decimals") {
				t.Errorf("got %v", last)
			}
		})
	}
}

// TestUnits: each unit that is offered is known.
func TestUnits(t *testing.T) {
	for _, q := range []sensor.Quantity{sensor.Distance, sensor.Temperature, sensor.Humidity} {
		for _, u := range topic.Units(q) {
			if _, err := topic.New("k/t", topic.Opts{Quantity: q, Unit: u}); err != nil {
				t.Error(err)
			}
		}
	}
}
