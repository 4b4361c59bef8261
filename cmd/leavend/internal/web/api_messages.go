package web

import (
	"net/http"
	"slices"
	"strings"
)

// messageHandler says who is told, and changes that.
type messageHandler struct{ messages Messages }

func (h messageHandler) getMessages(r *http.Request) (Recipients, error) {
	all, err := h.messages.Recipients(r.Context())
	all.All = orEmpty(all.All)
	return all, err
}

func (h messageHandler) postMessageTest(r *http.Request, in struct {
	Address string `json:"address"`
}) error {
	var c checks
	if c.that(plainLine(in.Address), "address: one line of text."); c.err != nil {
		return c.err
	}
	return h.messages.TryAddress(r.Context(), strings.TrimSpace(in.Address))
}

// recipientBody is who is to be told; an empty address leaves it as it is.
type recipientBody struct {
	Address   string   `json:"address"`
	About     []string `json:"about"`
	QuietFrom string   `json:"quiet_from"`
	QuietTo   string   `json:"quiet_to"`
}

func (h messageHandler) putRecipient(w http.ResponseWriter, r *http.Request) error {
	in, err := bodyOf[recipientBody](w, r)
	if err != nil {
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
	begin, err := h.messages.SetRecipient(r.Context(), Recipient{Name: name, About: in.About, QuietFrom: in.QuietFrom, QuietTo: in.QuietTo}, strings.TrimSpace(in.Address))
	return thenBegin(w, begin, err)
}

func (h messageHandler) deleteRecipient(w http.ResponseWriter, r *http.Request) error {
	begin, err := h.messages.RemoveRecipient(r.Context(), r.PathValue("recipient"))
	return thenBegin(w, begin, err)
}

// thenBegin answers, and then has the daemon start again.
func thenBegin(w http.ResponseWriter, begin func(), err error) error {
	if err == nil {
		noContent(w)
	}
	if err == nil && begin != nil {
		begin()
	}
	return err
}

// plainLine reports whether a text is one line, and not too long.
func plainLine(s string) bool {
	return strings.TrimSpace(s) != "" && len(s) <= 2000 && !strings.ContainsFunc(s, func(r rune) bool { return r < ' ' || r == 0x7f })
}
