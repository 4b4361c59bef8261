package web

import (
	"net/http"
	"slices"
	"strings"

	"leavend/cmd/leavend/internal/failure"
)

// messageHandler says who is told, and changes that.
type messageHandler struct{ messages Messages }

// there returns what stands behind the handler, or an error where nothing does.
func (h messageHandler) there() (Messages, error) {
	if h.messages == nil {
		return nil, &failure.Refusal{Code: "no-reach", Why: noReach}
	}
	return h.messages, nil
}

func (h messageHandler) getMessages(w http.ResponseWriter, r *http.Request) error {
	m, err := h.there()
	if err != nil {
		return err
	}
	all, err := m.Recipients(r.Context())
	if err != nil {
		return err
	}
	all.All = orEmpty(all.All)
	return writeJSON(w, http.StatusOK, all)
}

func (h messageHandler) postMessageTest(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		Address string `json:"address"`
	}
	if err := readBody(w, r, maxBody, &in); err != nil {
		return err
	}
	m, err := h.there()
	if err != nil {
		return err
	}
	var c checks
	c.that(plainLine(in.Address), "address: one line of text.")
	if c.err != nil {
		return c.err
	}
	if err := m.TryAddress(r.Context(), strings.TrimSpace(in.Address)); err != nil {
		return err
	}
	return noContent(w)
}

func (h messageHandler) putRecipient(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		Address   string   `json:"address"` // "" leaves it as it is
		About     []string `json:"about"`
		QuietFrom string   `json:"quiet_from"`
		QuietTo   string   `json:"quiet_to"`
	}
	if err := readBody(w, r, maxBody, &in); err != nil {
		return err
	}
	name := r.PathValue("recipient")
	var c checks
	c.that(isSlug(name), "recipient: lower-case letters, digits, - and _, such as phone.")
	c.that(in.Address == "" || plainLine(in.Address), "address: one line of text.")
	c.that(len(in.About) > 0, "about: choose something to be told about.")
	for _, a := range in.About {
		c.that(slices.ContainsFunc(Topics(), func(t Topic) bool { return t.Name == a }), "about: peak, dough, feeding, plan or faults.")
	}
	c.that((in.QuietFrom == "") == (in.QuietTo == ""), "quiet_from, quiet_to: both or none.")
	if c.err != nil {
		return c.err
	}
	m, err := h.there()
	if err != nil {
		return err
	}
	begin, err := m.SetRecipient(r.Context(), Recipient{Name: name, About: in.About, QuietFrom: in.QuietFrom, QuietTo: in.QuietTo}, strings.TrimSpace(in.Address))
	return thenBegin(w, begin, err)
}

func (h messageHandler) deleteRecipient(w http.ResponseWriter, r *http.Request) error {
	m, err := h.there()
	if err != nil {
		return err
	}
	begin, err := m.RemoveRecipient(r.Context(), r.PathValue("recipient"))
	return thenBegin(w, begin, err)
}

// thenBegin answers, and then has the daemon start again.
func thenBegin(w http.ResponseWriter, begin func(), err error) error {
	if err != nil {
		return err
	}
	err = noContent(w)
	if begin != nil {
		begin()
	}
	return err
}

// plainLine reports whether a text is one line, and not too long.
func plainLine(s string) bool {
	return strings.TrimSpace(s) != "" && len(s) <= 2000 && !strings.ContainsFunc(s, func(r rune) bool { return r < ' ' || r == 0x7f })
}
