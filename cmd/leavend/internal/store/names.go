package store

import (
	"context"
	"database/sql"
	"fmt"
	"leavend/cmd/leavend/internal/store/dbfile"
)

// name is a vessel's (channel empty) or that of a channel of a vessel.
type name struct {
	vessel  string
	channel Channel
}

// numbers are those of the usual channels. They are stored: never change one.
// Further channels get numbers from firstNumber on.
func numbers() map[Channel]int64 {
	return map[Channel]int64{Distance: 1, Height: 2, Warmth: 3, MatTemp: 4, RoomTemp: 5, Humidity: 6, MatOn: 7, Surface: 8}
}

const firstNumber = 16

// vessel returns the id of a vessel and makes one for a new name.
func (w *writing) vessel(ctx context.Context, tx *sql.Tx, vessel string) (int64, error) {
	return w.id(name{vessel: vessel}, func() *sql.Row {
		return tx.QueryRowContext(ctx, `INSERT INTO vessel (name) VALUES (?) RETURNING id`, vessel)
	})
}

// channel returns the number of a vessel's channel and makes one for a new
// name.
func (w *writing) channel(ctx context.Context, tx *sql.Tx, vessel int64, a arrival) (int64, error) {
	return w.id(name{a.vessel, a.channel}, func() *sql.Row {
		var fixed sql.NullInt64
		fixed.Int64, fixed.Valid = numbers()[a.channel]
		return tx.QueryRowContext(ctx, `INSERT INTO channel (vessel, name, number) VALUES (?, ?,
			ifnull(?, (SELECT max(?, ifnull(max(number) + 1, 0)) FROM channel))) RETURNING number`,
			vessel, string(a.channel), fixed, firstNumber)
	})
}

func (w *writing) id(n name, insert func() *sql.Row) (int64, error) {
	if id, ok := w.s.names[n]; ok {
		return id, nil
	}
	if id, ok := w.names[n]; ok {
		return id, nil
	}
	var id int64
	err := insert().Scan(&id)
	w.names[n] = id
	return id, err
}

func (s *Readings) loadNames(ctx context.Context) error {
	return dbfile.Each(ctx, s.w, func(row *sql.Rows) error {
		var n name
		var id int64
		err := row.Scan(&n.vessel, &n.channel, &id)
		s.names[n] = id
		return err
	}, `SELECT name, '', id FROM vessel UNION ALL
		SELECT v.name, c.name, c.number FROM channel c JOIN vessel v ON v.id = c.vessel`)
}

// channelName returns what a number stands for. After a damage of the file a
// number may stand for nothing that is known any more.
func (v *view) channelName(number int64) Channel {
	if c, ok := v.channels[number]; ok {
		return c
	}
	for c, n := range numbers() {
		if n == number {
			return c
		}
	}
	return Channel(fmt.Sprintf("lost_%d", number))
}
