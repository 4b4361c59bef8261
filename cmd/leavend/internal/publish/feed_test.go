package publish

import (
	"context"
	"errors"
	"math"
	"testing"
	"testing/synctest"
	"time"

	"leavend/sensor"
)

func TestNumber(t *testing.T) {
	tests := []struct {
		name, payload, field string
		want                 float64
		ok                   bool
	}{
		{"plain", "21.5", "", 21.5, true},
		{"plain with a line end", " 21.5\n", "", 21.5, true},
		{"negative", "-3", "", -3, true},
		{"a JSON field", `{"t":21.5,"h":40}`, "t", 21.5, true},
		{"a deep field", `{"SI7021":{"Temperature":21.5}}`, "SI7021.Temperature", 21.5, true},
		{"a number in quotes", `{"t":"21.5"}`, "t", 21.5, true},
		{"empty", "", "", 0, false},
		{"a word", "unavailable", "", 0, false},
		{"not a number", "NaN", "", 0, false},
		{"infinite", "1e999", "", 0, false},
		{"a unit behind", "21.5 C", "", 0, false},
		{"a missing field", `{"h":40}`, "t", 0, false},
		{"null", `{"t":null}`, "t", 0, false},
		{"true", `{"t":true}`, "t", 0, false},
		{"an object", `{"t":{}}`, "t", 0, false},
		{"broken JSON", `{"t":21.5`, "t", 0, false},
		{"JSON where a number is due", `{"t":21.5}`, "", 0, false},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got, err := number([]byte(tt.payload), tt.field)
			if got != tt.want || (err == nil) != tt.ok {
				t.Errorf("number(%q, %q) = %v, %v; want %v, ok %v", tt.payload, tt.field, got, err, tt.want, tt.ok)
			}
		})
	}
}

func FuzzNumber(f *testing.F) {
	f.Add([]byte("21.5"), "")
	f.Add([]byte(`{"a":{"b":"1e3"}}`), "a.b")
	f.Fuzz(func(t *testing.T, payload []byte, field string) {
		v, err := number(payload, field)
		if err == nil && (math.IsNaN(v) || math.IsInf(v, 0)) {
			t.Errorf("number(%q, %q) = %v", payload, field, v)
		}
	})
}

func FuzzWish(f *testing.F) {
	f.Add("27.5")
	f.Add("heat")
	f.Fuzz(func(t *testing.T, text string) {
		if w, err := parseWish("mat", WishSetpoint, text); err == nil && (math.IsNaN(w.Value) || math.IsInf(w.Value, 0)) {
			t.Errorf("setpoint %q = %v", text, w.Value)
		}
		if w, err := parseWish("mat", WishMode, text); err == nil && w.Mode != ModeHeat && w.Mode != ModeOff {
			t.Errorf("mode %q = %q", text, w.Mode)
		}
	})
}

func TestFeed(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var c Client
		f, err := c.Feed("shed/height", FeedOpts{Quantity: sensor.Distance, Scale: 10, MaxAge: time.Minute})
		if err != nil {
			t.Fatal(err)
		}
		var _ sensor.Source = f
		f.take(Inbound{Payload: []byte("5"), Retained: true})
		if _, err := f.Read(t.Context()); !errors.Is(err, ErrNoMessage) {
			t.Errorf("a retained message was read: %v", err)
		}
		f.take(Inbound{Payload: []byte("14.2")})
		r, err := f.Read(t.Context())
		if err != nil || r.Value != 142 || r.Quantity != sensor.Distance || !r.At.Equal(time.Now()) {
			t.Errorf("Read = %+v, %v; want 142 mm now", r, err)
		}
		if _, err := f.Read(t.Context()); !errors.Is(err, ErrNoMessage) {
			t.Errorf("one message was read twice: %v", err)
		}
		f.take(Inbound{Payload: []byte("broken")})
		if _, err := f.Read(t.Context()); err == nil {
			t.Error("a broken message was read")
		}
		f.take(Inbound{Payload: []byte("15")})
		time.Sleep(2 * time.Minute)
		if r, err := f.Read(t.Context()); err == nil {
			t.Errorf("a message two minutes old was read: %+v", r)
		}
		ctx, cancel := context.WithCancel(t.Context())
		cancel()
		if _, err := f.Read(ctx); !errors.Is(err, context.Canceled) {
			t.Errorf("Read after the end: %v", err)
		}
	})
}
