package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"leavend/cmd/leavend/internal/store/dbfile"
	"time"
)

// States keeps settings and states.
//
// Settings and states are JSON under a name. A setting is what a person
// chose, such as a setpoint: each former value is kept. A state is what a part of the
// program must know again after a restart, such as the mat's latched faults:
// only the newest value is kept. Both are on the disk when the call returns.
type States struct{ *file }

// What the names of settings and states begin with in the file.
const (
	settingPrefix = "setting/"
	statePrefix   = "state/"
)

// SetSetting stores a setting's value, which is anything that JSON can hold.
func (s *States) SetSetting(ctx context.Context, name string, value any) error {
	return s.keep(ctx, settingPrefix+name, value, true)
}

// Setting reads a setting into value, and returns false if it was never set.
func (s *States) Setting(ctx context.Context, name string, value any) (bool, error) {
	return s.kept(ctx, settingPrefix+name, value)
}

// SetState stores a part's state.
func (s *States) SetState(ctx context.Context, name string, value any) error {
	return s.keep(ctx, statePrefix+name, value, false)
}

// State reads a part's state into value, and returns false if there is none.
func (s *States) State(ctx context.Context, name string, value any) (bool, error) {
	return s.kept(ctx, statePrefix+name, value)
}

// Setting is one value of a setting and when it was made.
type Setting struct {
	Name  string          `json:"name"`
	Made  time.Time       `json:"made"`
	Value json.RawMessage `json:"value"`
}

// Settings returns all settings and their former values, newest first.
func (s *States) Settings(ctx context.Context) ([]Setting, error) {
	var all []Setting
	err := dbfile.Each(ctx, s.r, func(row *sql.Rows) error {
		var one Setting
		var made int64
		if err := row.Scan(&one.Name, &made, (*[]byte)(&one.Value)); err != nil {
			s.badRow(BadRow{Table: "kept", Why: err})
			return nil
		}
		one.Made = time.UnixMilli(made).UTC()
		all = append(all, one)
		return nil
	}, `SELECT substr(name, 9), made, value FROM (
		SELECT 1 AS now, id, name, made, value FROM kept UNION ALL SELECT 0, id, name, made, value FROM kept_before)
		WHERE name LIKE 'setting/%' ORDER BY name, now DESC, id DESC`)
	if err != nil {
		return nil, fmt.Errorf("store: read settings: %w", err)
	}
	return all, nil
}

func (s *States) keep(ctx context.Context, name string, value any, history bool) error {
	text, err := json.Marshal(value)
	if err != nil {
		return fmt.Errorf("store: set %s: %w", name, err)
	}
	err = s.urgent(ctx, func(tx *sql.Tx) error {
		if history {
			_, err := tx.ExecContext(ctx, `INSERT INTO kept_before (name, value, made) SELECT name, value, made FROM kept
				WHERE name = ? AND value <> ?`, name, string(text))
			if err != nil {
				return err
			}
		}
		return s.put(ctx, tx, name, string(text))
	})
	if err != nil {
		return fmt.Errorf("store: set %s: %w", name, err)
	}
	return nil
}

// put stores a value in place of the one before.
func (s *States) put(ctx context.Context, tx *sql.Tx, name, text string) error {
	_, err := tx.ExecContext(ctx, `INSERT INTO kept (name, value, made) VALUES (?, ?, ?)
		ON CONFLICT (name) DO UPDATE SET value = excluded.value, made = excluded.made`, name, text, s.now().UnixMilli())
	return err
}

func (s *States) kept(ctx context.Context, name string, value any) (bool, error) {
	var text string
	err := s.r.QueryRowContext(ctx, `SELECT value FROM kept WHERE name = ?`, name).Scan(&text)
	if errors.Is(err, sql.ErrNoRows) {
		return false, nil
	}
	if err == nil {
		err = json.Unmarshal([]byte(text), value)
	}
	if err != nil {
		return false, fmt.Errorf("store: read %s: %w", name, err)
	}
	return true, nil
}
