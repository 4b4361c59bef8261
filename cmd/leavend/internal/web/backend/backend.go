// Package backend answers the page's questions from the application's state: it
// stands behind the interfaces of package web, one type for each, and turns what
// monitor, planning and the store know into what the page shows.
package backend

import (
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/planning"
	"leavend/cmd/leavend/internal/web"
)

// Opts are what a backend needs beside the state.
type Opts struct {
	InMemory bool                 // the history lasts until the end of the process, and who feeds is told so
	Came     func(subject string) // told that somebody was at a vessel; required
}

// New returns what stands behind the page's journal, curves and plans. The parts
// that show the mat and the messages are the caller's to add.
func New(m *monitor.Monitor, plans *planning.Keeper, o Opts) (web.Backend, *History) {
	curves := &History{m: m}
	vessels := Vessels{m, o.Came}
	return web.Backend{
		History: curves, Journal: Journal{m, curves}, Feeds: Feeds{m, o.InMemory}, Bakes: Bakes{m}, Discards: Discards{m},
		Starters: Starters{m}, Fridge: vessels, Doughs: vessels, Plans: Plans{m, plans}, Exports: Exports{m},
	}, curves
}
