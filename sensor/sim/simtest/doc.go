// Package simtest draws recordings and plants of the simulated kitchen over
// their whole range, for tests alone.
//
// RandomRecording walks with its seed through ten families of curves (dome,
// flat, sharp, shoulder, slow, crater, weak, jerky, wide, double) and eleven
// cases of trouble (clean, noisy, lifted, gappy, mat, cool, hot, faulty, foam,
// unmarked, messy); every fifth seed has no top (dead, creep, climbing,
// chilled). 550 consecutive seeds meet every pair four times. Draws about
// whose truth one could argue are drawn again. The ranges are meant to be as
// broad as kitchens are, and are tuned to no detector. They ask for nothing
// impossible: a plain smoother that sees the whole recording puts the top
// between Lo and Hi in more than nine of ten feeds, so what an online detector
// misses beyond that is its own.
//
// Catalogue lists named events, one recording each. History follows one starter
// over many feeds, Doughs one baker over many doughs. RandomPlant draws a heat
// plant over the range that a thermostat must cope with.
package simtest
