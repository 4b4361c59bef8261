package web

import (
	"time"

	"leavend/peak/said"
)

// Said is a sentence: as the daemon writes it, and with its numbers still
// values, for a reader who writes them otherwise.
type Said struct {
	Text string    `json:"text"`
	Say  said.Line `json:"say"`
}

// PlanAsk is what a plan is asked for.
type PlanAsk struct {
	Vessel   string    `json:"vessel"` // the jar's slug; "" is the first
	Recipe   string    `json:"recipe"` // "" is the usual one
	Ready    time.Time `json:"ready"`
	Cooled   bool      `json:"cooled"`                 // wanted cooled, not as it comes out of the oven
	Fridge   bool      `json:"fridge"`                 // the jar stands in the fridge
	HaveG    Real      `json:"have_g"`                 // starter in the jar; 0: as the journal has it
	ByHand   bool      `json:"by_hand"`                // the baker sets the mat, and no plan does
	Loaves   int       `json:"loaves,omitempty"`       // how many, each of the recipe's weight; 0 is one
	Share    Real      `json:"starter_share,omitzero"` // of a chosen plan: the starter's share of the flour; 0 is the recipe's
	ColdBulk bool      `json:"cold_bulk,omitempty"`    // of a chosen plan: the bulk goes into the fridge
}

// PlanSheet is the answer: what was understood, and the plans.
type PlanSheet struct {
	Ask        PlanAsk   `json:"ask"`
	Name       string    `json:"name"`     // of the jar
	Invented   bool      `json:"invented"` // the recipe is made up from common practice
	Grounds    Said      `json:"grounds"`  // what the times rest on
	Doubts     []Said    `json:"doubts"`   // what cannot be known
	Plans      []Plan    `json:"plans"`    // the best first
	NoPlan     *Said     `json:"no_plan,omitempty"`
	Earliest   time.Time `json:"earliest,omitzero"` // when a loaf could likely be had instead
	Recipes    []string  `json:"recipes"`           // all there are
	MadeAt     time.Time `json:"made_at"`
	RoomC      Real      `json:"room_c"` // the room's warmth that was taken
	FeedsUsed  int       `json:"feeds_used"`
	DoughsUsed int       `json:"doughs_used"`
}

// Plan is one way to the loaf.
type Plan struct {
	ID    string     `json:"id"`
	Score int        `json:"score"` // of 100
	Ratio string     `json:"ratio"`
	Loaf  time.Time  `json:"loaf"`
	Steps []PlanStep `json:"steps"`
	Risks []Said     `json:"risks"`
	Why   []Said     `json:"why"`
	Late  *Real      `json:"late_probability"` // null where it cannot be known
}

// PlanStep is one line of a plan: something to do, or the top.
type PlanStep struct {
	Name     string    `json:"name"`
	Kind     string    `json:"kind"` // "do", "top" or "loaf"
	Text     string    `json:"text"`
	Say      said.Line `json:"say"`
	At       time.Time `json:"at"`       // best; of the top: likely
	Earliest time.Time `json:"earliest"` // of the top: the 80 % interval
	Latest   time.Time `json:"latest"`
	Until    time.Time `json:"until"`
	OvenOn   time.Time `json:"oven_on,omitzero"`
	Mat      bool      `json:"mat"`      // the mat holds what follows
	WarmthC  *Real     `json:"warmth_c"` // of what follows; null where it does not matter
	Fridge   bool      `json:"fridge"`   // what follows is in the fridge
	Done     bool      `json:"done"`     // of a chosen plan
	Told     bool      `json:"told"`     // the reminder went out
}

// ChosenPlan is the plan that the baker goes by.
type ChosenPlan struct {
	Ask      PlanAsk   `json:"ask"`
	Name     string    `json:"name"` // of the jar
	Plan     Plan      `json:"plan"`
	ChosenAt time.Time `json:"chosen_at"`
	Moved    time.Time `json:"moved,omitzero"`    // when its hours were last worked out anew
	Trouble  *Said     `json:"trouble,omitempty"` // why it cannot be met
}

// Weekly is a loaf of every week. It is planned anew each time, some days ahead.
type Weekly struct {
	Days    []string  `json:"days"` // mon to sun
	At      string    `json:"at"`   // 07:30
	Recipe  string    `json:"recipe"`
	Vessel  string    `json:"vessel"`
	Cooled  bool      `json:"cooled"`
	ByHand  bool      `json:"by_hand"`
	Next    time.Time `json:"next,omitzero"`    // the next loaf that is not planned yet
	Skipped time.Time `json:"skipped,omitzero"` // the last that was left out
}

// Taste is how a visitor has numbers written where the page cannot write them
// itself. What is empty is as the daemon is configured.
type Taste struct {
	Units string // metric or us
	Clock string // 24 or 12
}

// Wish is the time wished for a vessel and how it stands. Times that do not
// belong to the reason are left out.
type Wish struct {
	At        time.Time `json:"at"`
	Over      bool      `json:"over,omitempty"` // it has ended, and this is what became of it
	Reason    string    `json:"reason"`         // no-feed, on-course, ahead, behind, too-early, too-late, keeping, blind-probe, blind-curve, arrived, run-out
	Text      string    `json:"text"`           // the same in one sentence
	Say       said.Line `json:"say"`            // and with its numbers as values
	SetpointC Real      `json:"setpoint_c"`     // what the mat is asked to hold
	ExpectAt  time.Time `json:"expect_at,omitzero"`
	LowAt     time.Time `json:"low_at,omitzero"` // with HighAt an 80 % interval
	HighAt    time.Time `json:"high_at,omitzero"`
	SoonestAt time.Time `json:"soonest_at,omitzero"` // what the limits of the mat allow
	LatestAt  time.Time `json:"latest_at,omitzero"`
}
