package web

import (
	"bytes"
	"net/http"
	"time"
)

// What the baker writes down besides feeds: loaves, what became of the
// discard, a new starter, the fridge, and that a message was seen.

// bakeHandler keeps the loaves.
type bakeHandler struct {
	bakes Bakes
	now   func() time.Time
}

func (h bakeHandler) postBake(r *http.Request, in bakeBody) (Bake, error) {
	b, err := h.bake(in)
	if err == nil {
		b, err = h.bakes.AddBake(r.Context(), r.PathValue("vessel"), b)
	}
	b.Photo = nil
	return b, err
}

func (h bakeHandler) putBake(r *http.Request, in bakeBody) (Bake, error) {
	b, err := h.bake(in)
	if err == nil {
		b, err = h.bakes.CorrectBake(r.Context(), r.PathValue("vessel"), r.PathValue("bake"), b)
	}
	b.Photo = nil
	return b, err
}

// bakeBody is a loaf as the baker writes it down.
type bakeBody struct {
	At    time.Time `json:"at"`
	Stars int       `json:"stars"`
	Note  string    `json:"note"`
	Photo []byte    `json:"photo"`

	Crumb   []string `json:"crumb"`
	CoreC   float64  `json:"core_c"`
	WeightG float64  `json:"weight_g"`
}

// bake checks what the baker says.
func (h bakeHandler) bake(in bakeBody) (Bake, error) {
	var c checks
	c.that(in.Stars >= 0 && in.Stars <= 5, "stars: 1 to 5, or 0 for none.")
	c.text("note", in.Note, maxNote)
	c.moment("at", in.At, h.now())
	c.crumb(in.Crumb)
	c.that(in.CoreC == 0 || in.CoreC >= 20 && in.CoreC <= 110, "core_c: 20 to 110 °C, or 0 where it was not measured.")
	c.grams("weight_g", in.WeightG)
	c.that(len(in.Photo) == 0 || bytes.HasPrefix(in.Photo, []byte{0xFF, 0xD8, 0xFF}), "photo: only JPEG is kept.")
	return Bake{At: in.At, Stars: in.Stars, Note: in.Note, Photo: in.Photo, Crumb: in.Crumb, CoreC: in.CoreC, WeightG: in.WeightG}, c.err
}

// discardHandler keeps the discard jar.
type discardHandler struct {
	discards Discards
	now      func() time.Time
}

func (h discardHandler) postDiscard(r *http.Request, in struct {
	At    time.Time  `json:"at"`
	Act   DiscardAct `json:"act"`
	Grams float64    `json:"grams"`
	Note  string     `json:"note"`
}) (DiscardMove, error) {
	var c checks
	switch in.Act {
	case DiscardKept, DiscardUsed:
		c.that(in.Grams > 0, "grams: say how much.")
	case DiscardEmptied:
		c.that(in.Grams == 0, "grams: an emptied jar needs no weight.")
	default:
		c.that(false, `act: "kept", "used" or "emptied".`)
	}
	c.grams("grams", in.Grams)
	c.text("note", in.Note, maxNote)
	c.moment("at", in.At, h.now())
	if c.err != nil {
		return DiscardMove{}, c.err
	}
	return h.discards.MoveDiscard(r.Context(), r.PathValue("vessel"), DiscardMove{At: in.At, Act: in.Act, Grams: Real(in.Grams), Note: in.Note})
}

// starterHandler begins a new starter in a jar.
type starterHandler struct{ starters Starters }

func (h starterHandler) postStarter(r *http.Request, in struct {
	Feed string `json:"feed"`
	Note string `json:"note"`
}) (Starter, error) {
	var c checks
	c.text("note", in.Note, maxNote)
	if c.err != nil {
		return Starter{}, c.err
	}
	return h.starters.NewStarter(r.Context(), r.PathValue("vessel"), Starter{Feed: in.Feed, Note: in.Note})
}

// vesselHandler notes what is done with a vessel besides.
type vesselHandler struct {
	fridge Fridge
	uses   Uses
}

func (h vesselHandler) putFridge(r *http.Request, in struct {
	In *bool `json:"in"`
}) error {
	var c checks
	if c.given(in.In != nil, "in"); c.err != nil {
		return c.err
	}
	return h.fridge.Chill(r.Context(), r.PathValue("vessel"), *in.In)
}

func (h vesselHandler) putUsed(r *http.Request, in struct {
	How string `json:"how"`
}) (Used, error) {
	return h.uses.Use(r.Context(), r.PathValue("vessel"), in.How)
}

func (h bakeHandler) getBakePhoto(w http.ResponseWriter, r *http.Request) error {
	b, err := h.bakes.BakePhoto(r.Context(), r.PathValue("vessel"), r.PathValue("bake"))
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "image/jpeg")
	w.Header().Set("Cache-Control", "private, max-age=86400")
	_, _ = w.Write(b)
	return nil
}
