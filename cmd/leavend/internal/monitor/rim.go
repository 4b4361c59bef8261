package monitor

import "time"

// Rim is how near the rim of its vessel comes what rises in it.
type Rim struct {
	LeftMM float64   // from the surface to the rim
	Over   bool      // it is expected to rise over the rim
	By     time.Time // before then; zero where it is not expected to
}

// Surfaces are rough and dough is domed, so that what stands rimNear below the rim may
// touch it (a guess). A forecast counts from a third of its rise.
const (
	rimNearMM = 12
	rimFrom   = 1.0 / 3
)

// rim tells how near the rim what rises comes; nil where it is far, or the rim or the
// surface is not known.
func (v *Vessel) rim(s Status) *Rim {
	if v.Conf.HeightMM == 0 || s.Height == nil || !s.Height.Fresh || s.FedHeightMM == nil || s.Stage != Rising && s.Stage != AtTarget && s.Stage != Over {
		return nil
	}
	out := &Rim{LeftMM: max(v.Conf.HeightMM-s.Height.Value, 0)}
	if f := s.Forecast; f != nil && f.Source == OwnCurve && f.Ratio != nil && s.Ratio != nil && s.Ratio.Value-1 > rimFrom*(*f.Ratio-1) {
		fed := v.Shape.EquivalentMM(*s.FedHeightMM)
		if out.Over = v.Shape.HeightOfMM(fed**f.Ratio) > v.Conf.HeightMM; out.Over {
			out.By = f.At
		}
	}
	if out.Over || out.LeftMM < rimNearMM {
		return out
	}
	return nil
}
