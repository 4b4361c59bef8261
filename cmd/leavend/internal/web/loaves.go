package web

import (
	"net/http"
	"slices"

	"leavend/cmd/leavend/internal/store"
)

// Dough is what a loaf was baked from, as the store keeps it.
type Dough = store.Dough

// LoafKind is what loaves have in common that are compared.
type LoafKind struct {
	Recipe string `json:"recipe"` // "": mixed without a plan, and by no recipe
	Cold   bool   `json:"cold"`   // it goes into the fridge
	Rye    bool   `json:"rye,omitempty"`
}

// BestStop is where the best loaves of a kind ended their bulk, as shares of the volume,
// for dough of a temperature.
type BestStop struct {
	LoafKind
	Rated  int     `json:"rated"`
	Best   int     `json:"best"`
	Low    float64 `json:"low"`
	High   float64 `json:"high"`
	Middle float64 `json:"middle"`
	TempC  float64 `json:"temp_c"`
	InUse  bool    `json:"in_use"` // plans end the bulk at Middle
}

// Loaves are what the loaves so far tell, and the one that nothing is written down of.
type Loaves struct {
	Stops []BestStop `json:"stops"`
	Ask   *Dough     `json:"ask,omitempty"` // it should be baked by now
}

// crumbs are what a crumb may be, in the words of the trade.
var crumbs = []string{"even", "open", "tight", "caves", "gummy"}

func (c *checks) crumb(all []string) {
	for _, one := range all {
		c.that(slices.Contains(crumbs, one), `crumb: "even", "open", "tight", "caves" or "gummy".`)
	}
	c.that(len(all) <= len(crumbs), "crumb: each once.")
}

func (h bakeHandler) getLoaves(r *http.Request) (Loaves, error) { return h.bakes.Loaves(r.Context()) }

func (h bakeHandler) putStop(r *http.Request, in struct {
	LoafKind
	Use bool `json:"use"`
}) error {
	return h.bakes.UseStop(r.Context(), in.LoafKind, in.Use)
}
