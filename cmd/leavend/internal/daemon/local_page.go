package daemon

import (
	"encoding/json"
	"net/http"
	"strconv"

	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/text"
	"leavend/cmd/leavend/internal/web"
)

// PagePath is from where the page is reached: GET says it, PUT changes it.
const PagePath = "/page"

// getPage says from where the page is reached.
func (l local) getPage(w http.ResponseWriter, _ *http.Request) {
	if l.page == nil {
		refuse(w, text.Fail("cli.web.off"))
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

// putPage changes from where the page is reached. It answers before the daemon
// starts again, which ends every connection.
func (l local) putPage(w http.ResponseWriter, r *http.Request) {
	if l.page == nil {
		refuse(w, text.Fail("cli.web.off"))
		return
	}
	var ask web.ReachAsk
	if err := json.NewDecoder(http.MaxBytesReader(w, r.Body, 4096)).Decode(&ask); err != nil {
		http.Error(w, "the request cannot be read", http.StatusBadRequest)
		return
	}
	out, begin, err := l.page.SetReach(r.Context(), ask)
	if err != nil {
		refuse(w, err)
		return
	}
	answerLocal(w, out)
	if begin != nil {
		begin()
	}
}

// refuse answers with the sentence of an error, which the command puts into the words
// of who sits at the terminal.
func refuse(w http.ResponseWriter, err error) {
	w.WriteHeader(http.StatusConflict)
	_ = json.NewEncoder(w).Encode(text.Explain(err)) // who asked has gone, if it fails
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
