package peak

import (
	_ "embed"
	"encoding/binary"
	"math"
	"sync"

	"leavend/peak/network"
)

// weightFile holds everything that was learnt, as little-endian float32 in the
// order of model.sections. weights.json beside it says what is where and which
// command makes it.
//
//go:embed weights.f32
var weightFile []byte

// model is what was learnt.
type model struct {
	call, forecast, bowl network.Network
	limits               []float32 // see the limit constants
}

// The places in model.limits.
const (
	limitCall    = 0                       // the score from which the peak is called: of a steady sensor, of one that wanders
	limitNew     = 2                       // widths of the interval: of a new starter
	limitKnown   = limitNew + widthCount   // of one with past feeds
	limitProfile = limitKnown + widthCount // before the curve has moved: one for each half
	limitBowl    = limitProfile + 2
	limitCount   = limitBowl + 2
)

// The outputs of the networks.
const (
	callScore = 0 // how much better calling now is than waiting
	callLag   = 1 // three quantiles of the time to the peak
	callOuts  = 4

	forecastMore = 3 // after the three quantiles: what is still to rise
	forecastOuts = 4
	bowlOuts     = 3
)

// section is a named part of the weight file.
type section struct {
	name string
	data *[]float32
	n    int
}

// sections lists the parts of the file in their order.
func (m *model) sections() []section {
	m.call.Shape = [4]int{callInputs, 16, 8, callOuts}
	m.forecast.Shape = [4]int{forecastInputs, 14, 8, forecastOuts}
	m.bowl.Shape = [4]int{bowlInputs, 8, 4, bowlOuts}
	return []section{
		{"call", &m.call.Weights, m.call.Size()},
		{"forecast", &m.forecast.Weights, m.forecast.Size()},
		{"bowl", &m.bowl.Weights, m.bowl.Size()},
		{"limits", &m.limits, limitCount},
	}
}

// learnt returns the embedded model. A file of the wrong length leaves zeros,
// which a test would see.
var learnt = sync.OnceValue(func() *model { return decodeModel(weightFile) })

func decodeModel(b []byte) *model {
	m := &model{}
	for _, s := range m.sections() {
		v := make([]float32, s.n)
		for i := range v {
			if len(b) >= 4 {
				v[i], b = math.Float32frombits(binary.LittleEndian.Uint32(b)), b[4:]
			}
		}
		*s.data = v
	}
	return m
}
