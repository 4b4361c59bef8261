package hardware

import (
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/text"
	"leavend/peak"
	"leavend/sensor"
	"leavend/sensor/noise"
)

// steadyMM is how steady a distance is wanted, as a standard deviation. A guess:
// dough rises by about as much between two looks.
const steadyMM = 0.5

// IsRanger reports whether a sensor is a ranger of our own driving. What comes
// from the kernel, from elsewhere or from a recording was averaged there or is
// to be taken as it is.
func IsRanger(s config.Sensor) bool {
	return s.Chip.Laser() || s.Chip == config.Ultrasonic
}

// Steadied averages a ranger as far as its noise asks for and the time that it
// may take allows.
func Steadied(w Channel, within time.Duration) Channel {
	if w.Quantity == sensor.Distance && IsRanger(w.Sensor) {
		w.Source = noise.NewSteady(w.Source, noise.SteadyOpts{Target: steadyMM, Within: min(within, time.Second)})
	}
	return w
}

// Averaging says what a ranger's noise makes of it; zero for other sensors and
// while it is being learnt.
func Averaging(source sensor.Source) text.Message {
	s, ok := source.(*noise.Steady)
	if !ok {
		return text.Message{}
	}
	n, from, ok := s.Chosen()
	if !ok {
		return text.Message{}
	}
	return averaging(n, from)
}

// WouldAverage says the same of a ranger that is merely looked at, from its
// readings and the time that they took.
func WouldAverage(values []float64, took time.Duration) text.Message {
	from := noise.Of(values)
	if from.N < noise.Enough {
		return text.Message{}
	}
	most := int(time.Second / max(took/time.Duration(from.N), time.Millisecond))
	n, _ := from.Samples(steadyMM, max(most, 1))
	return averaging(n, from)
}

func averaging(n int, from noise.Stats) text.Message {
	if n == 1 {
		return text.Say("check.sensor.as_it_comes", text.Length("sd", from.SD))
	}
	return text.Say("check.sensor.averages", text.Length("sd", from.SD), text.Number("n", float64(n)), text.Length("to", from.StandardError(n)))
}

// Wander says how much a ranger's distance wanders over minutes, and what a
// baker can do where that is too much for a sharp call.
func Wander(s peak.Status) (says, do text.Message) {
	by := text.Length("by", s.WanderMM)
	if !s.Wanders() {
		return text.Say("check.sensor.wanders", by), text.Message{}
	}
	return text.Say("check.sensor.wanders_much", by), text.Say("check.sensor.wanders_much_do")
}
