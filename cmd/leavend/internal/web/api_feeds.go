package web

import (
	"net/http"
	"time"
)

// Limits of what may be written down. They stop slips of the hand, such as a
// year typed as grams, and keep the journal readable.
const (
	maxGrams  = 20_000
	maxNote   = 2_000
	maxFlours = 8
)

// feedHandler enters, corrects and takes away feeds.
type feedHandler struct {
	feeds Feeds
	now   func() time.Time
}

func (h feedHandler) postFeed(r *http.Request, in feedBody) (Feed, error) {
	f, err := h.feed(r, in)
	if err == nil {
		f, err = h.feeds.AddFeed(r.Context(), r.PathValue("vessel"), f)
	}
	f.Flours = orEmpty(f.Flours)
	return f, err
}

func (h feedHandler) putFeed(r *http.Request, in feedBody) (Feed, error) {
	f, err := h.feed(r, in)
	if err == nil {
		f, err = h.feeds.CorrectFeed(r.Context(), r.PathValue("vessel"), r.PathValue("feed"), f)
	}
	f.Flours = orEmpty(f.Flours)
	return f, err
}

// feedBody is what the baker knows of a feed; what the curve made of it is never
// taken from outside.
type feedBody struct {
	At         time.Time `json:"at"`
	KeptG      float64   `json:"kept_g"`
	Flours     []Flour   `json:"flours"`
	WaterG     float64   `json:"water_g"`
	DiscardG   float64   `json:"discard_g"`
	WaterTempC *Real     `json:"water_temp_c"`
	CleanJar   bool      `json:"clean_jar"`
	From       string    `json:"from"`
	Note       string    `json:"note"`
}

// feed checks what the baker says.
func (h feedHandler) feed(r *http.Request, in feedBody) (Feed, error) {
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
	c.text("from", in.From, 60)
	c.that(in.From == "" || in.From != r.PathValue("vessel"), "from: a levain is built from the starter of another jar.")
	c.moment("at", in.At, h.now())
	return Feed{At: in.At, KeptG: Real(in.KeptG), Flours: in.Flours, WaterG: Real(in.WaterG),
		DiscardG: Real(in.DiscardG), WaterTempC: in.WaterTempC, CleanJar: in.CleanJar, From: in.From, Note: in.Note}, c.err
}
