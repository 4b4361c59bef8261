package daemon

import (
	"encoding/json"
	"net/http"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/text"
	"leavend/cmd/leavend/internal/web"
)

// LoavesPath is where a command notes a loaf (POST), and reads what the loaves so far tell
// (GET).
const LoavesPath = "/loaves"

// LoafAsk is a loaf to note.
type LoafAsk struct {
	Jar string `json:"jar"` // the starter's, by name; "" is the first
	web.Bake
}

// getLoaves tells what the loaves so far tell, and of which nothing is written down.
func (l local) getLoaves(w http.ResponseWriter, r *http.Request) {
	out, err := l.bakes.Loaves(r.Context())
	if err != nil {
		refuse(w, err)
		return
	}
	answerLocal(w, out)
}

// postLoaf notes a loaf.
func (l local) postLoaf(w http.ResponseWriter, r *http.Request) {
	var ask LoafAsk
	if err := json.NewDecoder(http.MaxBytesReader(w, r.Body, 1<<16)).Decode(&ask); err != nil {
		http.Error(w, "the request cannot be read", http.StatusBadRequest)
		return
	}
	slug := ""
	for _, v := range l.conf.Vessels {
		if slug == "" && v.Kind == config.Jar && (ask.Jar == "" || v.Name == ask.Jar || v.Slug == ask.Jar) {
			slug = v.Slug
		}
	}
	if slug == "" {
		refuse(w, text.Fail("plan.asked.no_jar", text.Name("name", ask.Jar)))
		return
	}
	made, err := l.bakes.AddBake(r.Context(), slug, ask.Bake)
	if err != nil {
		refuse(w, err)
		return
	}
	answerLocal(w, made)
}
