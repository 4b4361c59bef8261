package web

import (
	"math"
	"net/http"
	"time"
	"unicode/utf8"

	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/failure"
)

// Limits of what may be written down. They stop slips of the hand, such as a
// year typed as grams, and keep the journal readable.
const (
	maxGrams  = 20_000
	maxNote   = 2_000
	maxFlours = 8
)

func (s *Server) postFeed(w http.ResponseWriter, r *http.Request) error {
	f, err := s.readFeed(w, r)
	if err != nil {
		return err
	}
	made, err := s.house.AddFeed(r.Context(), r.PathValue("vessel"), f)
	if err != nil {
		return err
	}
	made.Flours = orEmpty(made.Flours)
	return writeJSON(w, http.StatusCreated, made)
}

func (s *Server) putFeed(w http.ResponseWriter, r *http.Request) error {
	f, err := s.readFeed(w, r)
	if err != nil {
		return err
	}
	made, err := s.house.CorrectFeed(r.Context(), r.PathValue("vessel"), r.PathValue("feed"), f)
	if err != nil {
		return err
	}
	made.Flours = orEmpty(made.Flours)
	return writeJSON(w, http.StatusOK, made)
}

func (s *Server) deleteFeed(w http.ResponseWriter, r *http.Request) error {
	if err := s.house.UndoFeed(r.Context(), r.PathValue("vessel"), r.PathValue("feed")); err != nil {
		return err
	}
	return noContent(w)
}

// readFeed takes only what the baker knows; what the curve made of the feed
// is never taken from outside.
func (s *Server) readFeed(w http.ResponseWriter, r *http.Request) (Feed, error) {
	var in struct {
		At         time.Time `json:"at"`
		KeptG      float64   `json:"kept_g"`
		Flours     []Flour   `json:"flours"`
		WaterG     float64   `json:"water_g"`
		DiscardG   float64   `json:"discard_g"`
		WaterTempC *Real     `json:"water_temp_c"`
		CleanJar   bool      `json:"clean_jar"`
		Note       string    `json:"note"`
	}
	if err := readBody(w, r, maxBody, &in); err != nil {
		return Feed{}, err
	}
	var c checks
	c.grams("kept_g", in.KeptG)
	c.grams("water_g", in.WaterG)
	c.grams("discard_g", in.DiscardG)
	c.that(len(in.Flours) <= maxFlours, "flours: at most 8 kinds go into one feed.")
	for _, f := range in.Flours {
		c.grams("flours", float64(f.Grams))
		c.text("flours", f.Kind, 60)
	}
	if in.WaterTempC != nil {
		c.that(*in.WaterTempC >= 0 && *in.WaterTempC <= 100, "water_temp_c: water has 0 to 100 °C.")
	}
	c.text("note", in.Note, maxNote)
	c.moment("at", in.At, s.now())
	return Feed{At: in.At, KeptG: Real(in.KeptG), Flours: in.Flours, WaterG: Real(in.WaterG),
		DiscardG: Real(in.DiscardG), WaterTempC: in.WaterTempC, CleanJar: in.CleanJar, Note: in.Note}, c.err
}

func (s *Server) putSetpoint(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		SetpointC *float64 `json:"setpoint_c"`
	}
	if err := readBody(w, r, maxBody, &in); err != nil {
		return err
	}
	mat, err := s.mat(r.PathValue("mat"))
	if err != nil {
		return err
	}
	if in.SetpointC == nil {
		return newProblem(http.StatusUnprocessableEntity, "missing", "setpoint_c is missing.")
	}
	if err := mat.within("setpoint_c", *in.SetpointC); err != nil {
		return err
	}
	if err := s.house.SetSetpoint(r.Context(), mat.ID, *in.SetpointC); err != nil {
		return err
	}
	return noContent(w)
}

func (s *Server) putSchedule(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		Steps []Step `json:"schedule"`
	}
	if err := readBody(w, r, maxBody, &in); err != nil {
		return err
	}
	mat, err := s.mat(r.PathValue("mat"))
	if err != nil {
		return err
	}
	if len(in.Steps) > 24 {
		return newProblem(http.StatusUnprocessableEntity, "range", "A day has room for 24 steps.")
	}
	seen := map[string]bool{}
	for _, step := range in.Steps {
		if t, err := time.Parse("15:04", step.From); err != nil || t.Format("15:04") != step.From {
			return newProblem(http.StatusUnprocessableEntity, "range", "%q is no clock time such as 07:30.", clip(step.From))
		}
		if seen[step.From] {
			return newProblem(http.StatusUnprocessableEntity, "range", "%s stands in the schedule twice.", step.From)
		}
		seen[step.From] = true
		if err := mat.within("setpoint_c", float64(step.SetpointC)); err != nil {
			return err
		}
	}
	if err := s.house.SetSchedule(r.Context(), mat.ID, in.Steps); err != nil {
		return err
	}
	return noContent(w)
}

func (s *Server) putAllowed(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		Allowed  *bool `json:"allowed"`
		Accepted bool  `json:"cautions_accepted"`
	}
	if err := readBody(w, r, maxBody, &in); err != nil {
		return err
	}
	mat, err := s.mat(r.PathValue("mat"))
	if err != nil {
		return err
	}
	if in.Allowed == nil {
		return newProblem(http.StatusUnprocessableEntity, "missing", "allowed is missing.")
	}
	if *in.Allowed && !mat.Accepted && !in.Accepted {
		return newProblem(http.StatusConflict, "cautions", "Read the cautions and accept them before the mat heats for the first time.")
	}
	if err := s.house.Allow(r.Context(), mat.ID, *in.Allowed, in.Accepted); err != nil {
		return err
	}
	return noContent(w)
}

// postAcknowledgement asks the house only when the fault does not hold; the
// house looks again for itself.
func (s *Server) postAcknowledgement(w http.ResponseWriter, r *http.Request) error {
	id := r.PathValue("fault")
	for _, mat := range s.house.Now().Mats {
		for _, f := range mat.Faults {
			if f.ID != id {
				continue
			}
			if f.Holds {
				return &failure.Refusal{Code: "holds", Why: f.Why}
			}
			if err := s.house.Acknowledge(r.Context(), id); err != nil {
				return err
			}
			return noContent(w)
		}
	}
	return failure.ErrUnknown
}

func (s *Server) mat(id string) (Mat, error) {
	for _, m := range s.house.Now().Mats {
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
	return newProblem(http.StatusUnprocessableEntity, "limits", "%s: %g is outside %g to %g °C.", name, tempC, float64(m.LowC), float64(m.HighC))
}

// checks remembers the first thing wrong with a body.
type checks struct{ err error }

func (c *checks) that(ok bool, otherwise string) {
	if !ok && c.err == nil {
		c.err = newProblem(http.StatusUnprocessableEntity, "range", "%s", otherwise)
	}
}

func (c *checks) grams(name string, g float64) {
	c.that(g >= 0 && g <= maxGrams && !math.IsNaN(g), name+": 0 to 20000 g.")
}

func (c *checks) text(name, s string, most int) {
	c.that(utf8.ValidString(s) && utf8.RuneCountInString(s) <= most, name+": the text is too long or is no text.")
}

// moment lets the past and a few minutes of the future through: a phone's
// clock may be ahead.
func (c *checks) moment(name string, at, now time.Time) {
	c.that(at.IsZero() || at.Year() >= 1970 && at.Before(now.Add(event.Ahead)), name+": that moment has not come yet.")
}
