package daemon

import (
	"encoding/json"
	"errors"
	"net/http"
	"strconv"

	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/web"
)

// PagePath is from where the page is reached: GET says it, PUT changes it.
const PagePath = "/page"

// getPage says from where the page is reached.
func (l local) getPage(w http.ResponseWriter, _ *http.Request) {
	if l.page == nil {
		http.Error(w, noPage, http.StatusConflict)
		return
	}
	out := l.page.Reached()
	for _, a := range l.alarms.Active() {
		if a.Key.Reason == event.SettingsUndone {
			out.Trouble = a.Say.In(l.conf.Reader())
		}
	}
	answerLocal(w, out)
}

const noPage = "the page is switched off; set on = true under [web] in the configuration, and restart leavend"

// putPage changes from where the page is reached. It answers before the daemon
// starts again, which ends every connection.
func (l local) putPage(w http.ResponseWriter, r *http.Request) {
	if l.page == nil {
		http.Error(w, noPage, http.StatusConflict)
		return
	}
	var ask web.ReachAsk
	if err := json.NewDecoder(http.MaxBytesReader(w, r.Body, 4096)).Decode(&ask); err != nil {
		http.Error(w, "the request cannot be read", http.StatusBadRequest)
		return
	}
	out, begin, err := l.page.SetReach(r.Context(), ask)
	if err != nil {
		http.Error(w, plainRefusal(err), http.StatusConflict)
		return
	}
	answerLocal(w, out)
	if begin != nil {
		begin()
	}
}

// plainRefusal is what a person at the terminal reads of an error.
func plainRefusal(err error) string {
	var refusal *failure.Refusal
	if errors.As(err, &refusal) {
		return refusal.Why
	}
	return web.Detail(err)
}

// answerLocal writes the whole answer at once.
func answerLocal(w http.ResponseWriter, v any) {
	b, err := json.Marshal(v)
	if err != nil {
		http.Error(w, err.Error(), http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("Content-Length", strconv.Itoa(len(b)))
	_, _ = w.Write(b) // who asked has gone, if it fails
	_ = http.NewResponseController(w).Flush()
}
