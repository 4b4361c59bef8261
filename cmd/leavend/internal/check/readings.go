package check

import (
	"math"

	"leavend/cmd/leavend/internal/text"
)

// Kind is what is known of a quantity when judging a few readings of it.
type Kind struct {
	Low, High float64 // what a kitchen can have
	Noise     float64 // a standard deviation above this is worth a look
}

// Kinds of readings. Their limits are guesses on the generous side: a kitchen
// has no 60 °C, and a ranger over a still jar holds to a few millimetres.
func Kinds() map[string]Kind {
	return map[string]Kind{"temperature": {-5, 60, 0.3}, "distance": {5, 2000, 4}, "humidity": {1, 100, 3}}
}

// value is a reading of a quantity, and apart a difference of two, as a sentence
// takes them.
func value(name, quantity string, v float64) text.Arg {
	if quantity == "humidity" {
		v /= 100
	}
	return text.Sub(name, text.Say("check.value."+quantity, text.Number("v", v)))
}

func apart(name, quantity string, v float64) text.Arg { return value(name, quantity+"_apart", v) }

// Readings judges a few readings of one sensor, in °C, mm or percent, and the
// errors of those that did not come.
func Readings(sensor, quantity string, values []float64, errs []error) Result {
	topic, what := "sensor "+sensor, text.Sub("quantity", text.Say("check.quantity."+quantity))
	tried := text.Number("tried", float64(len(values)+len(errs)))
	if len(values) == 0 {
		last := "no reading came"
		if len(errs) > 0 {
			last = errs[len(errs)-1].Error()
		}
		return fail(topic, "check.sensor.none", text.Number("n", float64(len(errs))), what, text.Name("err", last))
	}
	k := Kinds()[quantity]
	mean, sd := spread(values)
	r := pass(topic, "check.sensor.reads_noise", what, value("value", quantity, mean), apart("noise", quantity, sd), text.Number("n", float64(len(values))))
	if len(values) == 1 {
		r = pass(topic, "check.sensor.reads", what, value("value", quantity, mean))
	}
	switch {
	case mean < k.Low || mean > k.High:
		return r.and(fail(topic, "check.sensor.outside", value("low", quantity, k.Low), value("high", quantity, k.High)))
	case len(errs) > 0:
		return r.and(warn(topic, "check.sensor.lost", text.Number("lost", float64(len(errs))), tried, text.Name("err", errs[len(errs)-1].Error())))
	case len(values) > 1 && sd > k.Noise && quantity == "distance":
		r.Level, r.Do = Warn, text.Say("check.sensor.noisy_distance")
	case len(values) > 1 && sd > k.Noise:
		r.Level, r.Do = Warn, text.Say("check.sensor.noisy")
	case len(values) > 2 && quantity == "distance" && sd == 0:
		return r.and(note(topic, "check.sensor.stuck"))
	}
	return r
}

// spread returns the mean and the standard deviation of a sample.
func spread(values []float64) (mean, sd float64) {
	for _, v := range values {
		mean += v / float64(len(values))
	}
	if len(values) < 2 {
		return mean, 0
	}
	for _, v := range values {
		sd += (v - mean) * (v - mean) / float64(len(values)-1)
	}
	return mean, math.Sqrt(sd)
}
