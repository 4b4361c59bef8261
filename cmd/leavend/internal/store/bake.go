package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
)

// MaxPhoto is the largest photo that is stored, in bytes.
const MaxPhoto = 8 << 20

// Bake is a loaf and what the baker thought of it.
type Bake struct {
	ID     int64     `json:"id,omitempty"`
	Vessel string    `json:"vessel,omitempty"` // whose starter went in
	At     time.Time `json:"at,omitzero"`
	Note   string    `json:"note,omitempty"`
	Stars  int       `json:"stars,omitempty"` // 1 to 5; 0: none given

	Crumb   []string `json:"crumb,omitempty"`    // of Crumbs
	CoreC   float64  `json:"core_c,omitempty"`   // in the middle, out of the oven; 0: not measured
	WeightG float64  `json:"weight_g,omitempty"` // baked; 0: not weighed
	Dough   *Dough   `json:"dough,omitempty"`    // that it was baked from; nil: not known
}

// Dough is what a loaf was baked from.
type Dough struct {
	Bowl   string    `json:"bowl"`  // the slug of the vessel
	Mixed  time.Time `json:"mixed"` // its curve begins then
	Recipe string    `json:"recipe,omitempty"`
	Rye    bool      `json:"rye,omitempty"`    // of no recipe, and mostly rye
	Plan   time.Time `json:"plan,omitzero"`    // the hour that its plan was for; zero: it had none
	Cold   bool      `json:"cold,omitempty"`   // it went into the fridge
	Rise   float64   `json:"rise,omitempty"`   // when its bulk ended, as a share of its volume; 0: not known
	TempC  float64   `json:"temp_c,omitempty"` // its mean temperature until then; 0: not known
}

// Crumbs are what a crumb may be, in the words of the trade.
func Crumbs() []string { return []string{"even", "open", "tight", "caves", "gummy"} }

func (b Bake) check() error {
	for _, c := range b.Crumb {
		if !slices.Contains(Crumbs(), c) {
			return fmt.Errorf("crumb is %q; it must be of %s", c, strings.Join(Crumbs(), ", "))
		}
	}
	switch {
	case b.Stars < 0 || b.Stars > 5:
		return fmt.Errorf("stars is %d; it must be between 0 and 5", b.Stars)
	case b.CoreC != 0 && !(b.CoreC >= 20 && b.CoreC <= 110):
		return fmt.Errorf("core_c is %g; it must be between 20 and 110 °C", b.CoreC)
	case !(b.WeightG >= 0 && b.WeightG <= 20_000):
		return fmt.Errorf("weight_g is %g; it must be between 0 and 20,000 g", b.WeightG)
	}
	return nil
}

func (b *Bake) row() row { return row{kindBake, &b.ID, &b.Vessel, &b.At} }

// AddBake stores a bake.
func (s *Journal) AddBake(ctx context.Context, b Bake) (Bake, error) {
	if err := b.check(); err != nil {
		return b, fmt.Errorf("store: add bake: %w", err)
	}
	return add(ctx, s, b)
}

// CorrectBake replaces what is stored of a bake; what it was is kept.
func (s *Journal) CorrectBake(ctx context.Context, b Bake) error {
	if err := b.check(); err != nil {
		return fmt.Errorf("store: correct bake %d: %w", b.ID, err)
	}
	return correct(ctx, s, b)
}

// UndoBake takes a bake back; it stays in the file.
func (s *Journal) UndoBake(ctx context.Context, id int64) error {
	return s.hide(ctx, kindBake, id, true)
}

// Bakes returns bakes, newest first.
func (s *Journal) Bakes(ctx context.Context, q Query) ([]Bake, error) {
	return entries[Bake](ctx, s, q)
}

// SetPhoto stores the photo of a bake in place of any before, which is kept in
// the file. contentType is a MIME type such as "image/jpeg".
func (s *Journal) SetPhoto(ctx context.Context, bake int64, contentType string, data []byte) error {
	if !strings.HasPrefix(contentType, "image/") {
		return fmt.Errorf("store: photo of bake %d: %q is no type of image", bake, contentType)
	}
	if len(data) == 0 || len(data) > MaxPhoto {
		return fmt.Errorf("store: photo of bake %d: it has %d bytes; 1 to %d are allowed", bake, len(data), MaxPhoto)
	}
	err := s.urgent(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `INSERT INTO photo_before (entry, type, data, made) SELECT entry, type, data, ? FROM photo WHERE entry = ?`,
			s.now().UnixMilli(), bake)
		if err != nil {
			return err
		}
		res, err := tx.ExecContext(ctx, `INSERT INTO photo (entry, type, data) SELECT id, ?, ? FROM entry WHERE id = ? AND kind = ?
			ON CONFLICT (entry) DO UPDATE SET type = excluded.type, data = excluded.data`, contentType, data, bake, kindBake)
		if err != nil {
			return err
		}
		if n, err := res.RowsAffected(); err != nil || n == 0 {
			return errors.Join(ErrNotFound, err)
		}
		return nil
	})
	if err != nil {
		return fmt.Errorf("store: photo of bake %d: %w", bake, err)
	}
	return nil
}

// Photo returns the photo of a bake, or ErrNotFound.
func (s *Journal) Photo(ctx context.Context, bake int64) (contentType string, data []byte, err error) {
	err = s.r.QueryRowContext(ctx, `SELECT type, data FROM photo WHERE entry = ?`, bake).Scan(&contentType, &data)
	if err != nil {
		return "", nil, fmt.Errorf("store: photo of bake %d: %w", bake, missing(err))
	}
	return contentType, data, nil
}

// Photographed tells which bakes of a vessel have a photo.
func (s *Journal) Photographed(ctx context.Context, vessel string) (map[int64]bool, error) {
	return s.flagged(ctx, `SELECT p.entry FROM photo p JOIN entry e ON e.id = p.entry WHERE e.vessel = ?`, vessel)
}
