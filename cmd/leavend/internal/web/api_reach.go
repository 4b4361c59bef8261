package web

import "net/http"

// reachHandler says from where the page is reached, and changes that.
type reachHandler struct {
	server   *Server
	sessions *sessions
}

func (h reachHandler) getReach(r *http.Request) (Reached, error) {
	out := h.server.Reached()
	if !h.sessions.rights(r).Local {
		out.Code = "" // it is for who is at the board
	}
	return out, nil
}

// putReach answers before the daemon starts again, so that the visitor learns
// the new address.
func (h reachHandler) putReach(w http.ResponseWriter, r *http.Request) error {
	ask, err := bodyOf[ReachAsk](w, r)
	if err != nil {
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
