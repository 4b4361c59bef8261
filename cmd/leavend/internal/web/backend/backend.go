// Package backend answers the page's questions from the application's state: it
// stands behind the interfaces of package web, one type for each, and turns what
// monitor, planning and the store know into what the page shows.
package backend

import (
	"leavend/cmd/leavend/internal/heating"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/planning"
	"leavend/cmd/leavend/internal/web"
)

// Opts are what a backend needs beside the state.
type Opts struct {
	Heat     *heating.Heater                 // the mat
	Ready    *heating.ReadyBy                // what steers it; nil where no vessel stands on it
	Demo     bool                            // the data is invented
	InMemory bool                            // the history lasts until the end of the process, and who feeds is told so
	Came     func(subject string)            // told that somebody was at a vessel
	Asks     func() []web.Ask                // the messages that are sent again until somebody has seen them
	Setup    func(language string) web.Setup // how the daemon's parts do

	// What concerns messages is handed through.
	Push      web.Push
	Reminders web.Reminders
}

// New returns what stands behind the page, and of it the curves, which learn in the
// background.
func New(m *monitor.Monitor, plans *planning.Keeper, o Opts) (web.Backend, *History) {
	mats, ready := Mats{m, o.Heat}, ReadyBy{m, o.Ready}
	curves := &History{m: m}
	vessels := Vessels{m, o.Came}
	return web.Backend{
		Watch: Watch{m, o, mats, ready}, Mats: mats, ReadyBy: ready, Push: o.Push, Reminders: o.Reminders,
		History: curves, Journal: Journal{m, curves}, Feeds: Feeds{m, o.InMemory}, Bakes: Bakes{m}, Discards: Discards{m},
		Starters: Starters{m}, Fridge: vessels, Uses: vessels, Doughs: vessels, Depths: vessels, Plans: Plans{m, plans}, Exports: Exports{m}, Holidays: Holidays{m}, Rules: Rules{m.Rules()},
	}, curves
}
