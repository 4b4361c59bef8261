package mqtt

import (
	"testing"
	"time"

	"leavend/control/plug"
)

// What a plug once said and the broker kept is no word of now.
func TestRetainedWordOfThePlugIsNone(t *testing.T) {
	recipe, err := plug.ByName("tasmota", "oven", 1)
	if err != nil {
		t.Fatal(err)
	}
	p, err := plug.New(recipe, deaf{}, plug.Opts{})
	if err != nil {
		t.Fatal(err)
	}
	hear := ear(p, time.Now)
	hear(Inbound{Topic: "stat/oven/POWER", Payload: []byte("OFF"), Retained: true})
	if p.Confirmed() {
		t.Error("a word that the broker kept is taken for the plug's own")
	}
	hear(Inbound{Topic: "stat/oven/POWER", Payload: []byte("OFF")})
	if !p.Confirmed() {
		t.Error("the plug's own word is not heard")
	}
}

// deaf is a network that is not there.
type deaf struct{}

func (deaf) Command(string, string) error { return ErrNotConnected }
func (deaf) Connected() bool              { return false }
