package timetopeak

import (
	"math"

	"leavend/peak/growth"
)

// The warmth responses that a starter may have. The published ones stand for
// the two yeasts that lead starters; most starters lie between or near them.
const (
	humilis = iota
	between
	cerevisiae
	responses
)

// responseWeight is how likely each is before this starter has shown its own:
// K. humilis is the common yeast of kept starters. A guess.
var responseWeight = [responses]float64{0.45, 0.3, 0.25}

// perHour is the growth rate at 20 °C from which the work to the top becomes
// hours: K. humilis by Gänzle's formula. At the other response's 20 °C the
// same rate is taken, for the trade's table, which sets the prior, is for 20 °C.
const perHour = 0.2247

// The warmth is looked up in a table: a search asks for it millions of times.
const (
	tableFromC = -5
	tablePerC  = 5
	tableLen   = 60*tablePerC + 1
	coldPace   = 0.02 // in the fridge it hardly goes on, but it does
	unknownC   = 22
)

// table is how fast each response lives, relative to 20 °C.
type table [responses][tableLen]float64

func newTable() *table {
	// Gänzle, Ehmann and Hammes 1998 as quoted, for C. milleri, now K. humilis;
	// Salvadó et al. 2011 as quoted, averaged over strains of S. cerevisiae.
	h := growth.Ganzle{A: 0.0124, B: 2.981, C: 0.3355, TMax: 36}
	c := growth.CTMI{TMin: 2.84, TOpt: 32.27, TMax: 45.39}
	t := &table{}
	for i := range tableLen {
		at := tableFromC + float64(i)/tablePerC
		a, b := h.Growth(at)/h.Growth(20), c.Growth(at)/c.Growth(20)
		t[humilis][i] = max(a, coldPace)
		t[cerevisiae][i] = max(b, coldPace)
		t[between][i] = max((a+b)/2, coldPace)
	}
	return t
}

// pace is how fast response k lives at tempC, relative to 20 °C.
func (t *table) pace(k int, tempC float64) float64 {
	if math.IsNaN(tempC) {
		tempC = unknownC
	}
	x := (tempC - tableFromC) * tablePerC
	if x <= 0 {
		return t[k][0]
	}
	if x >= tableLen-1 {
		return t[k][tableLen-1]
	}
	i := int(x)
	return t[k][i] + (x-float64(i))*(t[k][i+1]-t[k][i])
}
