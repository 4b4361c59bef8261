package web

import (
	"net/http"
	"time"

	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/web/problem"
)

// matHandler changes what a mat does.
type matHandler struct {
	watch Watch
	mats  Mats
}

func (h matHandler) putSetpoint(r *http.Request, in struct {
	SetpointC *float64 `json:"setpoint_c"`
}) error {
	mat, err := h.mat(r.PathValue("mat"))
	if err != nil {
		return err
	}
	var c checks
	if c.given(in.SetpointC != nil, "setpoint_c"); c.err != nil {
		return c.err
	}
	if err := mat.within("setpoint_c", *in.SetpointC); err != nil {
		return err
	}
	return h.mats.SetSetpoint(r.Context(), mat.ID, *in.SetpointC)
}

func (h matHandler) putSchedule(r *http.Request, in struct {
	Steps []Step `json:"schedule"`
}) error {
	mat, err := h.mat(r.PathValue("mat"))
	if err != nil {
		return err
	}
	if len(in.Steps) > 24 {
		return problem.New(http.StatusUnprocessableEntity, "range", "A day has room for 24 steps.")
	}
	seen := map[string]bool{}
	for _, step := range in.Steps {
		if t, err := time.Parse("15:04", step.From); err != nil || t.Format("15:04") != step.From {
			return problem.New(http.StatusUnprocessableEntity, "range", "%q is no clock time such as 07:30.", clip(step.From))
		}
		if seen[step.From] {
			return problem.New(http.StatusUnprocessableEntity, "range", "%s stands in the schedule twice.", step.From)
		}
		seen[step.From] = true
		if err := mat.within("setpoint_c", float64(step.SetpointC)); err != nil {
			return err
		}
	}
	return h.mats.SetSchedule(r.Context(), mat.ID, in.Steps)
}

func (h matHandler) putAllowed(r *http.Request, in struct {
	Allowed  *bool `json:"allowed"`
	Accepted bool  `json:"cautions_accepted"`
}) error {
	mat, err := h.mat(r.PathValue("mat"))
	if err != nil {
		return err
	}
	var c checks
	if c.given(in.Allowed != nil, "allowed"); c.err != nil {
		return c.err
	}
	if *in.Allowed && !mat.Accepted && !in.Accepted {
		return problem.New(http.StatusConflict, "cautions", "Read the cautions and accept them before the mat heats for the first time.")
	}
	return h.mats.Allow(r.Context(), mat.ID, *in.Allowed, in.Accepted)
}

// postAcknowledgement asks the mat only when the fault does not hold; the
// mat looks again for itself.
func (h matHandler) postAcknowledgement(r *http.Request) error {
	id := r.PathValue("fault")
	for _, mat := range h.watch.Now().Mats {
		for _, f := range mat.Faults {
			if f.ID != id {
				continue
			}
			if f.Holds {
				return &failure.Refusal{Code: "holds", Say: f.WhySay}
			}
			return h.mats.Acknowledge(r.Context(), id)
		}
	}
	return failure.ErrUnknown
}

func (h matHandler) mat(id string) (Mat, error) {
	for _, m := range h.watch.Now().Mats {
		if m.ID == id {
			return m, nil
		}
	}
	return Mat{}, failure.ErrUnknown
}

// within checks a setpoint against the mat's limits. The comparison is
// written so that NaN fails it.
func (m Mat) within(name string, tempC float64) error {
	if tempC >= float64(m.LowC) && tempC <= float64(m.HighC) {
		return nil
	}
	return problem.New(http.StatusUnprocessableEntity, "limits", "%s: %g is outside %g to %g °C.", name, tempC, float64(m.LowC), float64(m.HighC))
}
