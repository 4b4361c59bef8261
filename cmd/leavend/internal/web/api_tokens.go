package web

import (
	"net/http"
	"time"

	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/web/access"
)

// tokenHandler gives programs their tokens.
type tokenHandler struct {
	keys *access.Keyring
	now  func() time.Time
}

// tokenRights are the rights that a token may have: to look; to say what is done
// in the kitchen as well; to change what the daemon does as well. None lets a
// program set up the board, or say who may do what.
var tokenRights = map[string]who{"read": reader, "feed": feeder, "change": changer}

// tokenReply is a token as it is listed.
type tokenReply struct {
	Name  string    `json:"name"`
	Right string    `json:"right"`
	Made  time.Time `json:"made"`
	Token string    `json:"token,omitempty"` // once, when it is made
}

func (h tokenHandler) getTokens(*http.Request) (map[string][]tokenReply, error) {
	out := []tokenReply{}
	for _, t := range h.keys.Tokens() {
		out = append(out, tokenReply{Name: t.Name, Right: t.Right, Made: t.Made})
	}
	return map[string][]tokenReply{"tokens": out}, nil
}

func (h tokenHandler) postToken(_ *http.Request, in struct {
	Name  string `json:"name"`
	Right string `json:"right"`
}) (out tokenReply, err error) {
	var c checks
	c.that(isSlug(in.Name), "name: lower-case letters, digits, - and _, such as home-hub.")
	c.that(tokenRights[in.Right] != anyone, "right: read, feed or change.")
	if c.err != nil {
		return out, c.err
	}
	made, err := h.keys.NewToken(in.Name, in.Right)
	return tokenReply{Name: in.Name, Right: in.Right, Made: h.now().UTC().Truncate(time.Second), Token: made}, err
}

func (h tokenHandler) deleteToken(r *http.Request) error {
	there, err := h.keys.Revoke(r.PathValue("token"))
	if err == nil && !there {
		return failure.ErrUnknown
	}
	return err
}
