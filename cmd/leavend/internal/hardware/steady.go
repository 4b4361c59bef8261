package hardware

import (
	"fmt"
	"time"

	"leavend/cmd/leavend/internal/config"
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

// AveragingText says what a ranger's noise makes of it; "" for other sensors and
// while it is being learnt.
func AveragingText(source sensor.Source, us bool) string {
	s, ok := source.(*noise.Steady)
	if !ok {
		return ""
	}
	n, from, ok := s.Chosen()
	if !ok {
		return ""
	}
	return averagingText(n, from, us)
}

// WouldAverageText says the same of a ranger that is merely looked at, from its
// readings and the time that they took.
func WouldAverageText(values []float64, took time.Duration, us bool) string {
	from := noise.Of(values)
	if from.N < noise.Enough {
		return ""
	}
	most := int(time.Second / max(took/time.Duration(from.N), time.Millisecond))
	n, _ := from.Samples(steadyMM, max(most, 1))
	return averagingText(n, from, us)
}

func averagingText(n int, from noise.Stats, us bool) string {
	if n == 1 {
		return fmt.Sprintf("It scatters by %s and is used as it comes.", smallLength(from.SD, us))
	}
	return fmt.Sprintf("It scatters by %s, so leavend averages %d readings each time, to %s.", smallLength(from.SD, us), n, smallLength(from.StandardError(n), us))
}

func smallLength(mm float64, us bool) string {
	if us {
		return fmt.Sprintf("%.3f in", mm/25.4)
	}
	return fmt.Sprintf("%.1f mm", mm)
}

// WanderText says how much a ranger's distance wanders over minutes, and what a
// baker can do where that is too much for a sharp call.
func WanderText(s peak.Status, us bool) (says, do string) {
	says = fmt.Sprintf("Its distance wanders by %s over some minutes, which no averaging takes off.", smallLength(s.WanderMM, us))
	if !s.Wanders() {
		return says, ""
	}
	return says + " That is too much for a sharp call: the peak may be called up to an hour early or late.",
		"Shade it from sun and lamps, mount it firmly and away from the mat's warm air, and clean its window; if that does not help, another ranger may."
}
