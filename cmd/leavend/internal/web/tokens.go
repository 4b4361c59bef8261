package web

import (
	"crypto/rand"
	"crypto/subtle"
	"encoding/hex"
	"fmt"
	"net/http"
	"slices"
	"time"
)

// Limits of tokens.
const (
	maxTokens   = 50
	tokenPrefix = "leavend_" // so that a token that strays is recognised
)

// token is what a program shows in place of the password. Only its hash is
// kept, so a copy of the file opens nothing.
type token struct {
	Name  string    `json:"name"`
	Right string    `json:"right"`
	Made  time.Time `json:"made"`
	Hash  string    `json:"sha256"`
}

// tokenRights are the rights that a token may have: to look; to say what is done
// in the kitchen as well; to change what the daemon does as well. None lets a
// program set up the board, or say who may do what.
var tokenRights = map[string]who{"read": reader, "feed": feeder, "change": changer}

// rightOf returns what a token allows; anyone where it is none of ours.
func (k *keyring) rightOf(shown string) who {
	if shown == "" || len(shown) > 200 {
		return anyone
	}
	hash := hashToken(shown)
	k.mu.Lock()
	defer k.mu.Unlock()
	k.refresh()
	for _, t := range k.file.Tokens {
		if subtle.ConstantTimeCompare([]byte(t.Hash), []byte(hash)) == 1 {
			return tokenRights[t.Right]
		}
	}
	return anyone
}

// tokens lists the tokens.
func (k *keyring) tokens() []token {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.refresh()
	return slices.Clone(k.file.Tokens)
}

// newToken makes a token and returns it, this once.
func (k *keyring) newToken(name, right string) (string, error) {
	raw := make([]byte, 32)
	if _, err := rand.Read(raw); err != nil {
		return "", fmt.Errorf("web: make token: %w", err)
	}
	made := tokenPrefix + hex.EncodeToString(raw)
	k.mu.Lock()
	defer k.mu.Unlock()
	k.refresh()
	switch {
	case k.trouble != nil:
		return "", errAccessFile
	case slices.ContainsFunc(k.file.Tokens, func(t token) bool { return t.Name == name }):
		return "", newProblem(http.StatusConflict, "token-name", "There is a token called %q already; revoke it first, or take another name.", name)
	case len(k.file.Tokens) >= maxTokens:
		return "", newProblem(http.StatusConflict, "token-many", "There are %d tokens already; revoke one first.", maxTokens)
	}
	k.file.Tokens = append(k.file.Tokens, token{name, right, k.now().UTC().Truncate(time.Second), hashToken(made)})
	if err := k.save(); err != nil {
		k.file.Tokens = k.file.Tokens[:len(k.file.Tokens)-1]
		return "", err
	}
	return made, nil
}

// revoke takes a token away; false where there is none of that name.
func (k *keyring) revoke(name string) (bool, error) {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.refresh()
	old := k.file.Tokens
	k.file.Tokens = slices.DeleteFunc(slices.Clone(old), func(t token) bool { return t.Name == name })
	if len(k.file.Tokens) == len(old) {
		return false, nil
	}
	if err := k.save(); err != nil {
		k.file.Tokens = old
		return false, err
	}
	return true, nil
}

// tokenName is what a token may be called: it stands in an address.
var tokenName = later(`^[a-z0-9][a-z0-9_-]{0,39}$`)
