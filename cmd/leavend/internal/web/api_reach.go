package web

import "net/http"

// reachHandler says from where the page is reached, and changes that.
type reachHandler struct {
	server   *Server
	sessions *sessions
}

func (h reachHandler) getReach(w http.ResponseWriter, r *http.Request) error {
	out := h.server.Reached()
	if !h.sessions.rights(r).Local {
		out.Code = "" // it is for who is at the board
	}
	return writeJSON(w, http.StatusOK, out)
}

// putReach answers before the daemon starts again, so that the visitor learns
// the new address.
func (h reachHandler) putReach(w http.ResponseWriter, r *http.Request) error {
	var ask ReachAsk
	if err := readBody(w, r, maxBody, &ask); err != nil {
		return err
	}
	out, begin, err := h.server.SetReach(r.Context(), ask)
	if err != nil {
		return err
	}
	err = writeJSON(w, http.StatusOK, out)
	if begin != nil {
		begin()
	}
	return err
}
