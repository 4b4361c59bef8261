package sim

// StarterOpts is the character of a starter (or of a dough): who lives in it,
// what it is fed with and how well it holds its gas. The zero value of each
// field stands for the default named beside it. Rates are per hour at 20 °C
// unless they say otherwise; volumes are in volumes of gas-free dough.
type StarterOpts struct {
	Yeast Yeast // who leads; default Humilis

	// Vitality is how alive the culture is, 1 for one that was fed daily and
	// 0.01 for one forgotten for weeks; default 1. Use Dead for none at all.
	Vitality float64
	Dead     bool
	Pace     float64 // speed of everything alive against the published rates; default 1.15 (a guess that meets the trade table)
	Lag      float64 // Baranyi's h0 = rate × lag time, so that lag shortens with warmth; default 0.2

	// Sugars. Late is the share that the flour's enzymes set free as maltose;
	// Wait is how long the yeast needs, in hours at 20 °C, to turn to it once
	// the free sugars are gone. Both together draw a shoulder.
	Late    float64 // 0..0.9; default 0.3
	Wait    float64 // default 0.3
	Linger  float64 // how slowly maltose is eaten against free sugar: 1 as fast (the default), 4 four times slower
	Hunger  float64 // half-saturation of sugar uptake: low ends abruptly, high tails off; default 0.15
	Release float64 // sugar still set free per hour after the feed, share of a ripe starter's; default 0.01

	// Gas and film.
	Gas     float64 // gas from a full feed, volumes; default 4
	Hold    float64 // gas at which the fresh film is fully stretched, volumes; default 2.2
	Air     float64 // air beaten in while mixing, volumes, which leaks out within hours; default 0.02
	Foam    float64 // share of Hold in small bubbles that stay when the film is gone; default 0.2
	Leak    float64 // share of the gas lost through the fresh film, per hour; default 0.07
	Firm    float64 // how suddenly the stretched film lets gas through: 3 rounds the top, 16 makes it a corner; default 5
	Weaken  float64 // weakening of the film by acid, per hour in a ripe starter; default 0.25
	Age     float64 // weakening by time alone, per hour; default 0.015
	Brittle float64 // how fast cracks spread once the film is overstretched; 0 (the default) sags, 6 drops at once
	Burps   float64 // sudden losses of large bubbles once the film is weak, per hour; default 0

	// What the middle of the surface does against the mean level.
	DomeMM   float64 // height of the dome while it rises; default 0 (flat)
	CraterMM float64 // depth of the crater while it falls; default 0
	Wander   float64 // relative wander of the pace over hours, one standard deviation; default 0
}

// withDefaults fills in what was left out.
func (o StarterOpts) withDefaults() StarterOpts {
	def := func(v *float64, d float64) {
		if *v == 0 {
			*v = d
		}
	}
	def(&o.Vitality, 1)
	def(&o.Pace, 1.15)
	def(&o.Lag, 0.2)
	def(&o.Late, 0.3)
	def(&o.Wait, 0.3)
	def(&o.Linger, 1)
	def(&o.Hunger, 0.15)
	def(&o.Release, 0.01)
	def(&o.Gas, 4)
	def(&o.Hold, 2.2)
	def(&o.Air, 0.02)
	def(&o.Foam, 0.2)
	def(&o.Leak, 0.07)
	def(&o.Firm, 5)
	def(&o.Weaken, 0.25)
	def(&o.Age, 0.015)
	if o.Dead {
		o.Vitality = 0
	}
	return o
}

// Ratio is a feed as bakers write it: starter : flour : water by weight.
type Ratio struct{ Starter, Flour, Water float64 }

// Inoculation is the old starter's share of the whole.
func (r Ratio) Inoculation() float64 {
	sum := r.Starter + r.Flour + r.Water
	if !(sum > 0) {
		return 0
	}
	return r.Starter / sum
}

// Hydration is water over flour of the whole, with the old starter counted at
// its own hydration before (a fraction: 1 is 100 %).
func (r Ratio) Hydration(before float64) float64 {
	flour := r.Flour + r.Starter/(1+before)
	if !(flour > 0) {
		return 0
	}
	return (r.Water + r.Starter*before/(1+before)) / flour
}
