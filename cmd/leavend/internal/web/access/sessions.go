package access

import (
	"crypto/rand"
	"crypto/subtle"
	"encoding/hex"
	"fmt"
	"log/slog"
	"slices"
)

// NewSession starts a session and returns its token. Past maxSessions the one that
// ends first goes.
func (k *Keyring) NewSession() (token string, err error) {
	raw := make([]byte, 32)
	if _, err := rand.Read(raw); err != nil {
		return "", fmt.Errorf("web: make session: %w", err)
	}
	token = hex.EncodeToString(raw)
	k.mu.Lock()
	defer k.mu.Unlock()
	k.refresh()
	if k.trouble != nil {
		return "", ErrFile
	}
	k.prune()
	if len(k.file.Sessions) >= maxSessions {
		k.file.Sessions = slices.Delete(k.file.Sessions, 0, 1)
	}
	k.file.Sessions = append(k.file.Sessions, session{Hash: hashToken(token), Expires: k.now().Add(SessionLife)})
	if err := k.save(); err != nil {
		// A full disk must not keep the baker from the mat's switch.
		k.log.Warn("web: a session cannot be stored; it lasts until leavend restarts", slog.Any("err", err))
	}
	return token, nil
}

func (k *Keyring) prune() {
	now := k.now()
	k.file.Sessions = slices.DeleteFunc(k.file.Sessions, func(s session) bool { return !now.Before(s.Expires) })
}

// SignedIn reports whether a session of that token is open.
func (k *Keyring) SignedIn(token string) bool {
	if token == "" {
		return false
	}
	hash := hashToken(token)
	k.mu.Lock()
	defer k.mu.Unlock()
	k.refresh()
	k.prune()
	return slices.ContainsFunc(k.file.Sessions, func(s session) bool {
		return subtle.ConstantTimeCompare([]byte(s.Hash), []byte(hash)) == 1
	})
}

// EndSession ends the session of a token.
func (k *Keyring) EndSession(token string) error {
	hash := hashToken(token)
	k.mu.Lock()
	defer k.mu.Unlock()
	k.refresh()
	before := len(k.file.Sessions)
	k.file.Sessions = slices.DeleteFunc(k.file.Sessions, func(s session) bool { return s.Hash == hash })
	if len(k.file.Sessions) == before {
		return nil
	}
	return k.save()
}
