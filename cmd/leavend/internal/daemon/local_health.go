package daemon

import (
	"net/http"

	"leavend/cmd/leavend/internal/text"
)

// HealthPath says whether the daemon works.
const HealthPath = "/health"

// Health is how the daemon is, as it tells a command on this board.
type Health struct {
	Vessels int            `json:"vessels"`
	Alarms  []text.Message `json:"alarms"` // what is wrong
}

// getHealth answers from memory, but through what the control loop holds too: a
// loop that hangs with a lock keeps the answer back.
func (l local) getHealth(w http.ResponseWriter, _ *http.Request) {
	h := Health{Vessels: len(l.conf.Vessels), Alarms: []text.Message{}}
	if l.heat.Mat != nil {
		_ = l.heat.Mat.State()
	}
	for _, a := range l.alarms.Active() {
		h.Alarms = append(h.Alarms, a.Say)
	}
	answerLocal(w, h)
}
