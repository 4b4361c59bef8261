package web

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"sync"

	"leavend/cmd/leavend/internal/web/problem"
)

// guarded is a value that several pages may change: of two that are open at once, the
// second does not undo in silence what the first has changed.
type guarded struct {
	now func() any
	mu  sync.Mutex // held while it is compared and changed
}

// read answers with the value and its entity tag.
func (g *guarded) read(w http.ResponseWriter, _ *http.Request) error {
	v := g.now()
	w.Header().Set("ETag", tagOf(v))
	return writeJSON(w, http.StatusOK, v)
}

// change lets a change through, unless the value is another by now than whoever asks
// has seen (If-Match, RFC 9110, section 13.1.1).
func (g *guarded) change(act handler) handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		body, err := io.ReadAll(http.MaxBytesReader(w, r.Body, maxBody))
		if err != nil {
			return bodyProblem(err)
		}
		r.Body = io.NopCloser(bytes.NewReader(body)) // a slow sender holds up no other
		g.mu.Lock()
		defer g.mu.Unlock()
		if seen := r.Header.Get("If-Match"); seen != "" && seen != "*" && seen != tagOf(g.now()) {
			return problem.New(http.StatusPreconditionFailed, "changed", "This was changed elsewhere meanwhile. Load the page again, then make your change.")
		}
		return act(w, r)
	}
}

// tagOf is the entity tag of a value (RFC 9110, section 8.8.3): another value has another.
func tagOf(v any) string {
	b, _ := json.Marshal(v) // an answer that cannot be encoded is refused where it is written
	return fmt.Sprintf(`"%x"`, sha256.Sum256(b))
}
