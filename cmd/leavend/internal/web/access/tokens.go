package access

import (
	"crypto/rand"
	"crypto/subtle"
	"encoding/hex"
	"fmt"
	"net/http"
	"slices"
	"time"

	"leavend/cmd/leavend/internal/web/problem"
)

// maxTokens bounds the tokens that are kept.
const maxTokens = 50

// TokenPrefix begins each token, so that one that strays is recognised.
const TokenPrefix = "leavend_"

// Token is what a program shows in place of the password. Only its hash is
// kept, so a copy of the file opens nothing.
type Token struct {
	Name  string    `json:"name"`
	Right string    `json:"right"`
	Made  time.Time `json:"made"`
	Hash  string    `json:"sha256"`
}

// Right returns the right of a token that is shown; "" where it is none of ours.
func (k *Keyring) Right(shown string) string {
	if shown == "" || len(shown) > 200 {
		return ""
	}
	hash := hashToken(shown)
	k.mu.Lock()
	defer k.mu.Unlock()
	k.refresh()
	for _, t := range k.file.Tokens {
		if subtle.ConstantTimeCompare([]byte(t.Hash), []byte(hash)) == 1 {
			return t.Right
		}
	}
	return ""
}

// Tokens lists the tokens.
func (k *Keyring) Tokens() []Token {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.refresh()
	return slices.Clone(k.file.Tokens)
}

// NewToken makes a token and returns it, this once.
func (k *Keyring) NewToken(name, right string) (string, error) {
	raw := make([]byte, 32)
	if _, err := rand.Read(raw); err != nil {
		return "", fmt.Errorf("web: make token: %w", err)
	}
	made := TokenPrefix + hex.EncodeToString(raw)
	k.mu.Lock()
	defer k.mu.Unlock()
	k.refresh()
	switch {
	case k.trouble != nil:
		return "", ErrFile
	case slices.ContainsFunc(k.file.Tokens, func(t Token) bool { return t.Name == name }):
		return "", problem.New(http.StatusConflict, "token-name", "There is a token called %q already; revoke it first, or take another name.", name)
	case len(k.file.Tokens) >= maxTokens:
		return "", problem.New(http.StatusConflict, "token-many", "There are %d tokens already; revoke one first.", maxTokens)
	}
	k.file.Tokens = append(k.file.Tokens, Token{name, right, k.now().UTC().Truncate(time.Second), hashToken(made)})
	if err := k.save(); err != nil {
		k.file.Tokens = k.file.Tokens[:len(k.file.Tokens)-1]
		return "", err
	}
	return made, nil
}

// Revoke takes a token away; false where there is none of that name.
func (k *Keyring) Revoke(name string) (bool, error) {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.refresh()
	old := k.file.Tokens
	k.file.Tokens = slices.DeleteFunc(slices.Clone(old), func(t Token) bool { return t.Name == name })
	if len(k.file.Tokens) == len(old) {
		return false, nil
	}
	if err := k.save(); err != nil {
		k.file.Tokens = old
		return false, err
	}
	return true, nil
}
