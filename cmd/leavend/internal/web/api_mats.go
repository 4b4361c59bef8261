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

func (h matHandler) putSetpoint(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		SetpointC *float64 `json:"setpoint_c"`
	}
	if err := readBody(w, r, maxBody, &in); err != nil {
		return err
	}
	mat, err := h.mat(r.PathValue("mat"))
	if err != nil {
		return err
	}
	if in.SetpointC == nil {
		return problem.New(http.StatusUnprocessableEntity, "missing", "setpoint_c is missing.")
	}
	if err := mat.within("setpoint_c", *in.SetpointC); err != nil {
		return err
	}
	if err := h.mats.SetSetpoint(r.Context(), mat.ID, *in.SetpointC); err != nil {
		return err
	}
	return noContent(w)
}

func (h matHandler) putSchedule(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		Steps []Step `json:"schedule"`
	}
	if err := readBody(w, r, maxBody, &in); err != nil {
		return err
	}
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
	if err := h.mats.SetSchedule(r.Context(), mat.ID, in.Steps); err != nil {
		return err
	}
	return noContent(w)
}

func (h matHandler) putAllowed(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		Allowed  *bool `json:"allowed"`
		Accepted bool  `json:"cautions_accepted"`
	}
	if err := readBody(w, r, maxBody, &in); err != nil {
		return err
	}
	mat, err := h.mat(r.PathValue("mat"))
	if err != nil {
		return err
	}
	if in.Allowed == nil {
		return problem.New(http.StatusUnprocessableEntity, "missing", "allowed is missing.")
	}
	if *in.Allowed && !mat.Accepted && !in.Accepted {
		return problem.New(http.StatusConflict, "cautions", "Read the cautions and accept them before the mat heats for the first time.")
	}
	if err := h.mats.Allow(r.Context(), mat.ID, *in.Allowed, in.Accepted); err != nil {
		return err
	}
	return noContent(w)
}

// postAcknowledgement asks the mat only when the fault does not hold; the
// mat looks again for itself.
func (h matHandler) postAcknowledgement(w http.ResponseWriter, r *http.Request) error {
	id := r.PathValue("fault")
	for _, mat := range h.watch.Now().Mats {
		for _, f := range mat.Faults {
			if f.ID != id {
				continue
			}
			if f.Holds {
				return &failure.Refusal{Code: "holds", Why: f.Why}
			}
			if err := h.mats.Acknowledge(r.Context(), id); err != nil {
				return err
			}
			return noContent(w)
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
