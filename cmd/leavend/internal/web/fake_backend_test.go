package web

// backend is the invented kitchen as the server takes it.
func (h *fakeHouse) backend() Backend {
	return Backend{Watch: h, History: h, Journal: h, Feeds: h, Bakes: h, Discards: h, Starters: h, Fridge: h, Uses: h, Reminders: h, Mats: h, Push: h, ReadyBy: h, Plans: h, Doughs: h, Exports: h}
}

// allRoutes are the addresses that a server answers.
func allRoutes() []route { return (&Server{sessions: &sessions{}}).apiRoutes(Backend{}) }
