package check

import (
	"fmt"
	"math"
)

// Kind is what is known of a quantity when judging a few readings of it.
type Kind struct {
	Unit      string
	Low, High float64 // what a kitchen can have
	Noise     float64 // a standard deviation above this is worth a look
	Digits    int
}

// Kinds of readings. Their limits are guesses on the generous side: a kitchen
// has no 60 °C, and a ranger over a still jar holds to a few millimetres.
func Kinds() map[string]Kind {
	return map[string]Kind{
		"temperature": {" °C", -5, 60, 0.3, 2},
		"distance":    {" mm", 5, 2000, 4, 1},
		"humidity":    {" %", 1, 100, 3, 1},
	}
}

// show returns a value and a spread in the unit that people are shown.
func (k Kind) show(quantity string, v, sd float64, us bool) (value, spread string) {
	switch {
	case us && quantity == "temperature":
		return fmt.Sprintf("%.1f °F", v*9/5+32), fmt.Sprintf("%.2f °F", sd*9/5)
	case us && quantity == "distance":
		return fmt.Sprintf("%.2f in", v/25.4), fmt.Sprintf("%.2f in", sd/25.4)
	}
	return fmt.Sprintf("%.*f%s", k.Digits, v, k.Unit), fmt.Sprintf("%.*f%s", k.Digits, sd, k.Unit)
}

// Readings judges a few readings of one sensor, in °C, mm or percent, and the
// errors of those that did not come. With us they are told in °F and inches.
func Readings(sensor, quantity string, values []float64, errs []error, us bool) Result {
	topic := "sensor " + sensor
	tried := len(values) + len(errs)
	if len(values) == 0 {
		last := "no reading came"
		if len(errs) > 0 {
			last = errs[len(errs)-1].Error()
		}
		return Result{Topic: topic, Level: Fail, Says: fmt.Sprintf("none of %d readings of its %s came: %s.", tried, quantity, last),
			Do: "check its wires and its settings"}
	}
	k := Kinds()[quantity]
	mean, sd := spread(values)
	value, noise := k.show(quantity, mean, sd, us)
	says := fmt.Sprintf("%s %s, noise %s (standard deviation of %d readings)", quantity, value, noise, len(values))
	if len(values) == 1 {
		says = fmt.Sprintf("%s %s", quantity, value)
	}
	r := Result{Topic: topic, Level: Pass, Says: says + "."}
	switch {
	case mean < k.Low || mean > k.High:
		low, _ := k.show(quantity, k.Low, 0, us)
		high, _ := k.show(quantity, k.High, 0, us)
		r.Level, r.Says = Fail, says+fmt.Sprintf("; a kitchen has %s to %s.", low, high)
		r.Do = "check its wires and its settings"
	case len(errs) > 0:
		r.Level, r.Says = Warn, says+fmt.Sprintf("; %d of %d did not come: %v.", len(errs), tried, errs[len(errs)-1])
		r.Do = "check its wires: a loose one, one too long, or one beside the mat's supply"
	case len(values) > 1 && sd > k.Noise:
		r.Level = Warn
		r.Do = noisy(quantity)
	case len(values) > 2 && quantity == "distance" && sd == 0:
		r.Says = says + "; a ranger that shows no noise at all may be stuck."
		r.Level = Note
	}
	return r
}

func noisy(quantity string) string {
	if quantity == "distance" {
		return "see that nothing is in its way and that no light shines into it; clean its window; a vl53l1x is steadier with a longer budget"
	}
	return "see that it touches the jar and hangs in no draught"
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
