package web

import (
	"bytes"
	"net/http"
	"time"

	"leavend/cmd/leavend/internal/web/problem"
)

// What the baker writes down besides feeds: loaves, what became of the
// discard, a new starter, the fridge, and that a message was seen.

// bakeHandler keeps the loaves.
type bakeHandler struct {
	bakes Bakes
	now   func() time.Time
}

func (h bakeHandler) postBake(w http.ResponseWriter, r *http.Request) error {
	b, err := h.readBake(w, r)
	if err != nil {
		return err
	}
	made, err := h.bakes.AddBake(r.Context(), r.PathValue("vessel"), b)
	if err != nil {
		return err
	}
	made.Photo = nil
	return writeJSON(w, http.StatusCreated, made)
}

func (h bakeHandler) putBake(w http.ResponseWriter, r *http.Request) error {
	b, err := h.readBake(w, r)
	if err != nil {
		return err
	}
	made, err := h.bakes.CorrectBake(r.Context(), r.PathValue("vessel"), r.PathValue("bake"), b)
	if err != nil {
		return err
	}
	made.Photo = nil
	return writeJSON(w, http.StatusOK, made)
}

func (h bakeHandler) deleteBake(w http.ResponseWriter, r *http.Request) error {
	if err := h.bakes.UndoBake(r.Context(), r.PathValue("vessel"), r.PathValue("bake")); err != nil {
		return err
	}
	return noContent(w)
}

// readBake reads a loaf as the baker writes it down.
func (h bakeHandler) readBake(w http.ResponseWriter, r *http.Request) (Bake, error) {
	var in struct {
		At    time.Time `json:"at"`
		Stars int       `json:"stars"`
		Note  string    `json:"note"`
		Photo []byte    `json:"photo"`

		Crumb   []string `json:"crumb"`
		CoreC   float64  `json:"core_c"`
		WeightG float64  `json:"weight_g"`
	}
	if err := readBody(w, r, maxPhotoBody, &in); err != nil {
		return Bake{}, err
	}
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

func (h discardHandler) postDiscard(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		At    time.Time  `json:"at"`
		Act   DiscardAct `json:"act"`
		Grams float64    `json:"grams"`
		Note  string     `json:"note"`
	}
	if err := readBody(w, r, maxBody, &in); err != nil {
		return err
	}
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
		return c.err
	}
	made, err := h.discards.MoveDiscard(r.Context(), r.PathValue("vessel"), DiscardMove{At: in.At, Act: in.Act, Grams: Real(in.Grams), Note: in.Note})
	if err != nil {
		return err
	}
	return writeJSON(w, http.StatusCreated, made)
}

func (h discardHandler) deleteDiscard(w http.ResponseWriter, r *http.Request) error {
	if err := h.discards.UndoDiscard(r.Context(), r.PathValue("vessel"), r.PathValue("move")); err != nil {
		return err
	}
	return noContent(w)
}

// starterHandler begins a new starter in a jar.
type starterHandler struct{ starters Starters }

func (h starterHandler) postStarter(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		Feed string `json:"feed"`
		Note string `json:"note"`
	}
	if err := readBody(w, r, maxBody, &in); err != nil {
		return err
	}
	var c checks
	c.text("note", in.Note, maxNote)
	if c.err != nil {
		return c.err
	}
	made, err := h.starters.NewStarter(r.Context(), r.PathValue("vessel"), Starter{Feed: in.Feed, Note: in.Note})
	if err != nil {
		return err
	}
	return writeJSON(w, http.StatusCreated, made)
}

func (h starterHandler) deleteStarter(w http.ResponseWriter, r *http.Request) error {
	if err := h.starters.UndoStarter(r.Context(), r.PathValue("vessel"), r.PathValue("starter")); err != nil {
		return err
	}
	return noContent(w)
}

// vesselHandler notes what is done with a vessel besides.
type vesselHandler struct {
	fridge    Fridge
	uses      Uses
	reminders Reminders
}

func (h vesselHandler) putFridge(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		In *bool `json:"in"`
	}
	if err := readBody(w, r, maxBody, &in); err != nil {
		return err
	}
	if in.In == nil {
		return problem.New(http.StatusUnprocessableEntity, "missing", "in is missing.")
	}
	if err := h.fridge.Chill(r.Context(), r.PathValue("vessel"), *in.In); err != nil {
		return err
	}
	return noContent(w)
}

func (h vesselHandler) putUsed(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		How string `json:"how"`
	}
	if err := readBody(w, r, maxBody, &in); err != nil {
		return err
	}
	used, err := h.uses.Use(r.Context(), r.PathValue("vessel"), in.How)
	if err != nil {
		return err
	}
	return writeJSON(w, http.StatusOK, used)
}

func (h vesselHandler) deleteUsed(w http.ResponseWriter, r *http.Request) error {
	if err := h.uses.Unuse(r.Context(), r.PathValue("vessel")); err != nil {
		return err
	}
	return noContent(w)
}

func (h vesselHandler) postSeen(w http.ResponseWriter, r *http.Request) error {
	if err := h.reminders.Seen(r.Context(), r.PathValue("ask")); err != nil {
		return err
	}
	return noContent(w)
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

// doughHandler takes what is done to a dough.
type doughHandler struct{ doughs Doughs }

func (h doughHandler) postFold(w http.ResponseWriter, r *http.Request) error {
	if err := h.doughs.Fold(r.Context(), r.PathValue("vessel")); err != nil {
		return err
	}
	return noContent(w)
}
