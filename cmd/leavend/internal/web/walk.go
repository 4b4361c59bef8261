package web

import (
	"context"
	"net/http"
	"strings"
	"unicode/utf8"

	"leavend/cmd/leavend/internal/text"
	"leavend/cmd/leavend/internal/web/problem"
)

// Walk leads from a bare board to a watched jar: what is there, which is
// which, how deep the jar is, what switches the mat, who is told. Nothing is
// written before Keep.
type Walk interface {
	// Found looks at what hangs on the board. It takes a second or two.
	Found(ctx context.Context, language string) (WalkFound, error)
	// Measure reads a sensor that Found named, a few times.
	Measure(ctx context.Context, sensor string) (WalkReading, error)
	// Draft says what Keep would write.
	Draft(ctx context.Context, language string, a WalkAnswers) (WalkDraft, error)
	// Keep writes the configuration and has the daemon start again with it,
	// the mat off.
	Keep(ctx context.Context, a WalkAnswers) error
}

// WalkFound is what hangs on the board.
type WalkFound struct {
	Sensors     []WalkSensor   `json:"sensors"`
	Amiss       []Check        `json:"amiss"`             // buses that are not there, and what to do
	Lines       []int          `json:"lines"`             // GPIO lines that stay low while the board starts
	Recipes     []string       `json:"recipes"`           // of plugs
	Cautions    []string       `json:"cautions"`          // to be read before a mat is chosen
	CautionsSay []text.Message `json:"cautions_say"`      // the same as messages
	Vessels     []string       `json:"vessels"`           // names that are taken
	HasMat      bool           `json:"has_mat"`           // one is configured already
	Blocked     string         `json:"blocked,omitempty"` // the code of why nothing can be set up here
}

// WalkSensor is one sensor that answers and that no vessel uses.
type WalkSensor struct {
	Key      string `json:"key"`
	Says     string `json:"says"`
	Measures string `json:"measures"` // distance or temperature
}

// WalkReading is what a sensor said. Value is the middle of the readings.
type WalkReading struct {
	Value  Real   `json:"value"`
	Spread Real   `json:"spread"` // from the least to the greatest
	Unit   string `json:"unit"`   // mm or °C
	Taken  int    `json:"taken"`
	Failed int    `json:"failed"`
}

// WalkAnswers are the baker's answers.
type WalkAnswers struct {
	Name        string `json:"name"`
	Kind        Kind   `json:"kind"`
	Distance    string `json:"distance"`    // key of a sensor
	Temperature string `json:"temperature"` // key of a sensor; "" is none
	FloorMM     Real   `json:"floor_mm"`    // from the sensor to the empty vessel's floor; 0 is not measured
	HeightMM    Real   `json:"height_mm"`   // of the vessel's inside; 0 is not known
	BoreMM      Real   `json:"bore_mm"`     // inside width of the vessel; 0 is not known

	Mat      string `json:"mat"` // none, gpio or plug
	Line     int    `json:"line"`
	Recipe   string `json:"recipe"`
	Topic    string `json:"topic"`
	Cautions bool   `json:"cautions_accepted"`

	Tell string `json:"tell"` // address of a service that tells a phone; "" is none
	US   bool   `json:"us"`   // °F and inches
}

// WalkDraft is what would be written.
type WalkDraft struct {
	Difference string   `json:"difference"`
	Notes      []string `json:"notes"`
}

// walkHandler sets up a vessel from the page.
type walkHandler struct{ setup Walk }

func (h walkHandler) getWalk(r *http.Request) (WalkFound, error) {
	found, err := h.setup.Found(r.Context(), readerOf(r).Language)
	found.Sensors, found.Amiss, found.Vessels = orEmpty(found.Sensors), orEmpty(found.Amiss), orEmpty(found.Vessels)
	return found, err
}

func (h walkHandler) postWalkReading(r *http.Request, in struct {
	Sensor string `json:"sensor"`
}) (WalkReading, error) {
	return h.setup.Measure(r.Context(), in.Sensor)
}

func (h walkHandler) postWalkDraft(r *http.Request, a WalkAnswers) (draft WalkDraft, err error) {
	if err := a.check(); err != nil {
		return draft, err
	}
	draft, err = h.setup.Draft(r.Context(), readerOf(r).Language, a)
	draft.Notes = orEmpty(draft.Notes)
	return draft, err
}

func (h walkHandler) postWalkKeep(r *http.Request, a WalkAnswers) error {
	if err := a.check(); err != nil {
		return err
	}
	return h.setup.Keep(r.Context(), a)
}

// check refuses answers that no configuration takes.
func (a WalkAnswers) check() error {
	var c checks
	c.that(strings.TrimSpace(a.Name) != "", "name: the jar or bowl needs a name.")
	for _, text := range []struct{ key, value string }{{"name", a.Name}, {"distance", a.Distance}, {"temperature", a.Temperature}, {"recipe", a.Recipe}, {"topic", a.Topic}, {"tell", a.Tell}} {
		c.that(utf8.ValidString(text.value) && len(text.value) <= 400 && !strings.ContainsFunc(text.value, func(r rune) bool { return r < ' ' || r == 0x7f }),
			text.key+": the text is too long, or holds signs that are no text.")
	}
	c.that(a.Kind == Jar || a.Kind == Bowl, "kind: jar or bowl.")
	c.that(a.Distance != "", "distance: choose the sensor that looks into it.")
	c.that(a.FloorMM >= 0 && a.FloorMM <= 4000, "floor_mm: 0 to 4000.")
	c.that(a.HeightMM >= 0 && a.HeightMM <= 2000, "height_mm: 0 to 2000.")
	c.that(a.BoreMM == 0 || a.BoreMM >= 20 && a.BoreMM <= 600, "bore_mm: 20 to 600, or 0 where it is not known.")
	c.that(a.Mat == "none" || a.Mat == "gpio" || a.Mat == "plug", "mat: none, gpio or plug.")
	c.that(a.Line >= 0 && a.Line <= 511, "line: the number of a GPIO line.")
	if c.err == nil && a.Mat != "none" && !a.Cautions {
		return problem.New(http.StatusConflict, "cautions", "Read the cautions and accept them before a mat is used.")
	}
	return c.err
}
