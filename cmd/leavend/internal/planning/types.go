package planning

import (
	"time"

	"leavend/cmd/leavend/internal/text"
)

// Said is a sentence: as the daemon writes it, and by its key with its values, for a reader
// of another language who writes numbers otherwise.
type Said struct {
	Text string       `json:"text"`
	Say  text.Message `json:"say"`
}

// Ask is what a plan is asked for.
type Ask struct {
	Vessel   string    `json:"vessel"` // the jar's slug; "" is the first
	Recipe   string    `json:"recipe"` // "" is the usual one
	Ready    time.Time `json:"ready"`
	Cooled   bool      `json:"cooled"`                 // wanted cooled, not as it comes out of the oven
	Fridge   bool      `json:"fridge"`                 // the jar stands in the fridge
	HaveG    float64   `json:"have_g"`                 // starter in the jar; 0: as the journal has it
	ByHand   bool      `json:"by_hand"`                // the baker sets the mat, and no plan does
	Levain   string    `json:"levain,omitempty"`       // the jar that a levain is built in, and the mother kept; "-" is one that is not watched
	Loaves   int       `json:"loaves,omitempty"`       // how many, each of the recipe's weight; 0 is one
	Share    float64   `json:"starter_share,omitzero"` // of a chosen plan: the starter's share of the flour; 0 is the recipe's
	ColdBulk bool      `json:"cold_bulk,omitempty"`    // of a chosen plan: the bulk goes into the fridge
}

// Sheet is the answer: what was understood, and the plans.
type Sheet struct {
	Ask        Ask       `json:"ask"`
	Name       string    `json:"name"`     // of the jar
	Invented   bool      `json:"invented"` // the recipe is made up from common practice
	Grounds    Said      `json:"grounds"`  // what the times rest on
	Doubts     []Said    `json:"doubts"`   // what cannot be known
	Plans      []Plan    `json:"plans"`    // the best first
	NoPlan     *Said     `json:"no_plan,omitempty"`
	Earliest   time.Time `json:"earliest,omitzero"` // when a loaf could likely be had instead
	Recipes    []string  `json:"recipes"`           // all there are
	MadeAt     time.Time `json:"made_at"`
	RoomC      float64   `json:"room_c"` // the room's temperature that was taken
	FeedsUsed  int       `json:"feeds_used"`
	DoughsUsed int       `json:"doughs_used"`
}

// Plan is one way to the loaf.
type Plan struct {
	ID    string    `json:"id"`
	Score int       `json:"score"` // of 100
	Ratio string    `json:"ratio"`
	Loaf  time.Time `json:"loaf"`
	Steps []Step    `json:"steps"`
	Risks []Said    `json:"risks"`
	Why   []Said    `json:"why"`
	Late  *float64  `json:"late_probability"` // null where it cannot be known
}

// Step is one line of a plan: something to do, or the top.
type Step struct {
	Name     string       `json:"name"`
	Kind     string       `json:"kind"` // "do", "top" or "loaf"
	Text     string       `json:"text"`
	Say      text.Message `json:"say"`
	At       time.Time    `json:"at"`       // best; of the top: likely
	Earliest time.Time    `json:"earliest"` // of the top: the 80 % interval
	Latest   time.Time    `json:"latest"`
	Until    time.Time    `json:"until"`
	OvenOn   time.Time    `json:"oven_on,omitzero"`
	Mat      bool         `json:"mat"`      // the mat holds what follows
	WarmthC  *float64     `json:"warmth_c"` // of what follows; null where it does not matter
	Fridge   bool         `json:"fridge"`   // what follows is in the fridge
	Done     bool         `json:"done"`     // of a chosen plan
	Told     bool         `json:"told"`     // the reminder went out
}

// Chosen is the plan that the baker goes by.
type Chosen struct {
	Ask      Ask       `json:"ask"`
	Name     string    `json:"name"` // of the jar
	Plan     Plan      `json:"plan"`
	ChosenAt time.Time `json:"chosen_at"`
	Moved    time.Time `json:"moved,omitzero"`    // when its hours were last worked out again
	Trouble  *Said     `json:"trouble,omitempty"` // why it cannot be met
}

// Weekly is a loaf of every week. It is planned again each time, some days ahead.
type Weekly struct {
	Days    []string  `json:"days"` // mon to sun
	At      string    `json:"at"`   // 07:30
	Recipe  string    `json:"recipe"`
	Vessel  string    `json:"vessel"`
	Cooled  bool      `json:"cooled"`
	ByHand  bool      `json:"by_hand"`
	Levain  string    `json:"levain,omitempty"` // as in Ask
	Next    time.Time `json:"next,omitzero"`    // the next loaf that is not planned yet
	Skipped time.Time `json:"skipped,omitzero"` // the last that was left out
}
