package web

import (
	"bytes"
	"net/http"
	"time"
)

// What the baker writes down besides feeds: loaves, what became of the
// discard, a new starter, the fridge, and that a message was seen.

func (s *Server) postBake(w http.ResponseWriter, r *http.Request) error {
	b, err := s.readBake(w, r)
	if err != nil {
		return err
	}
	made, err := s.house.AddBake(r.Context(), r.PathValue("vessel"), b)
	if err != nil {
		return err
	}
	made.Photo = nil
	return writeJSON(w, http.StatusCreated, made)
}

func (s *Server) putBake(w http.ResponseWriter, r *http.Request) error {
	b, err := s.readBake(w, r)
	if err != nil {
		return err
	}
	made, err := s.house.CorrectBake(r.Context(), r.PathValue("vessel"), r.PathValue("bake"), b)
	if err != nil {
		return err
	}
	made.Photo = nil
	return writeJSON(w, http.StatusOK, made)
}

func (s *Server) deleteBake(w http.ResponseWriter, r *http.Request) error {
	if err := s.house.UndoBake(r.Context(), r.PathValue("vessel"), r.PathValue("bake")); err != nil {
		return err
	}
	return noContent(w)
}

// readBake reads a loaf as the baker writes it down.
func (s *Server) readBake(w http.ResponseWriter, r *http.Request) (Bake, error) {
	var in struct {
		At    time.Time `json:"at"`
		Stars int       `json:"stars"`
		Note  string    `json:"note"`
		Photo []byte    `json:"photo"`
	}
	if err := readBody(w, r, maxPhotoBody, &in); err != nil {
		return Bake{}, err
	}
	var c checks
	c.that(in.Stars >= 0 && in.Stars <= 5, "stars: 1 to 5, or 0 for none.")
	c.text("note", in.Note, maxNote)
	c.moment("at", in.At, s.now())
	c.that(len(in.Photo) == 0 || bytes.HasPrefix(in.Photo, []byte{0xFF, 0xD8, 0xFF}), "photo: only JPEG is kept.")
	return Bake{At: in.At, Stars: in.Stars, Note: in.Note, Photo: in.Photo}, c.err
}

func (s *Server) postDiscard(w http.ResponseWriter, r *http.Request) error {
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
	c.moment("at", in.At, s.now())
	if c.err != nil {
		return c.err
	}
	made, err := s.house.MoveDiscard(r.Context(), r.PathValue("vessel"), DiscardMove{At: in.At, Act: in.Act, Grams: Real(in.Grams), Note: in.Note})
	if err != nil {
		return err
	}
	return writeJSON(w, http.StatusCreated, made)
}

func (s *Server) deleteDiscard(w http.ResponseWriter, r *http.Request) error {
	if err := s.house.UndoDiscard(r.Context(), r.PathValue("vessel"), r.PathValue("move")); err != nil {
		return err
	}
	return noContent(w)
}

func (s *Server) postStarter(w http.ResponseWriter, r *http.Request) error {
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
	made, err := s.house.NewStarter(r.Context(), r.PathValue("vessel"), Starter{Feed: in.Feed, Note: in.Note})
	if err != nil {
		return err
	}
	return writeJSON(w, http.StatusCreated, made)
}

func (s *Server) deleteStarter(w http.ResponseWriter, r *http.Request) error {
	if err := s.house.UndoStarter(r.Context(), r.PathValue("vessel"), r.PathValue("starter")); err != nil {
		return err
	}
	return noContent(w)
}

func (s *Server) putFridge(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		In *bool `json:"in"`
	}
	if err := readBody(w, r, maxBody, &in); err != nil {
		return err
	}
	if in.In == nil {
		return newProblem(http.StatusUnprocessableEntity, "missing", "in is missing.")
	}
	if err := s.house.Chill(r.Context(), r.PathValue("vessel"), *in.In); err != nil {
		return err
	}
	return noContent(w)
}

func (s *Server) postSeen(w http.ResponseWriter, r *http.Request) error {
	if err := s.house.Seen(r.Context(), r.PathValue("ask")); err != nil {
		return err
	}
	return noContent(w)
}
