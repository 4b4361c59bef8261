package web

import (
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"math/big"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"time"

	"golang.org/x/crypto/bcrypt"
)

// Limits of what the keyring keeps.
const (
	minPassword = 8
	maxPassword = 72 // bcrypt reads no further, so a longer one would lie
	sessionLife = 60 * 24 * time.Hour
	maxSessions = 64
	// bcryptCost takes about a tenth of a second on a desktop and a second or
	// two on the smallest boards. bcrypt rather than argon2id, because one try
	// needs kilobytes and not 19 MiB of a board that may have 512.
	bcryptCost = 11
)

// keyring keeps the password's hash and the open sessions. Tokens are kept
// as hashes, so a copy of the file opens nothing.
type keyring struct {
	path string // "" keeps everything in memory
	now  func() time.Time
	slot chan struct{} // one bcrypt at a time, whoever asks
	cost int           // of bcrypt

	mu   sync.Mutex // guards what follows
	file keyFile
	code string
}

type keyFile struct {
	Password string    `json:"password_bcrypt"`
	Sessions []session `json:"sessions"`
	Tokens   []token   `json:"tokens,omitempty"`
}

type session struct {
	Hash    string    `json:"token_sha256"`
	Expires time.Time `json:"expires"`
}

func openKeyring(dir string, now func() time.Time) (*keyring, error) {
	k := &keyring{now: now, slot: make(chan struct{}, 1), cost: bcryptCost}
	if dir != "" {
		k.path = filepath.Join(dir, accessFile)
		if err := k.load(); err != nil {
			return nil, err
		}
	}
	if k.file.Password == "" {
		n, err := rand.Int(rand.Reader, big.NewInt(100_000_000))
		if err != nil {
			return nil, fmt.Errorf("web: make set-up code: %w", err)
		}
		k.code = fmt.Sprintf("%08d", n)
	}
	return k, nil
}

// load refuses a file it cannot read rather than starting without a
// password, which would open the door.
func (k *keyring) load() error {
	b, err := os.ReadFile(k.path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return fmt.Errorf("web: read page access: %w", err)
	}
	if err := json.Unmarshal(b, &k.file); err != nil {
		return fmt.Errorf("web: %s is damaged (%w); delete it to choose a new password", k.path, err)
	}
	return nil
}

// save writes the file whole or not at all. The caller holds mu.
func (k *keyring) save() error {
	if k.path == "" {
		return nil
	}
	b, err := json.MarshalIndent(k.file, "", "  ")
	if err != nil {
		return fmt.Errorf("web: encode page access: %w", err)
	}
	return writeWhole(k.path, b, 0o600)
}

// writeWhole replaces a file so that a power cut leaves the old or the new
// one.
func writeWhole(path string, b []byte, mode os.FileMode) error {
	f, err := os.CreateTemp(filepath.Dir(path), ".new-*")
	if err != nil {
		return fmt.Errorf("web: write %s: %w", path, err)
	}
	defer os.Remove(f.Name())
	_, err = f.Write(b)
	err = errors.Join(err, f.Chmod(mode), f.Sync(), f.Close())
	if err == nil {
		err = os.Rename(f.Name(), path)
	}
	if err != nil {
		return fmt.Errorf("web: write %s: %w", path, err)
	}
	return nil
}

func (k *keyring) setupCode() string {
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.code
}

func (k *keyring) hasPassword() bool {
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.file.Password != ""
}

// codeFits compares a set-up code in constant time.
func (k *keyring) codeFits(code string) bool {
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.code != "" && subtle.ConstantTimeCompare([]byte(k.code), []byte(code)) == 1
}

// passwordFits takes its time, and one caller at a time.
func (k *keyring) passwordFits(password string) bool {
	k.mu.Lock()
	hash := k.file.Password
	k.mu.Unlock()
	if hash == "" || len(password) > maxPassword {
		return false
	}
	k.slot <- struct{}{}
	defer func() { <-k.slot }()
	return bcrypt.CompareHashAndPassword([]byte(hash), []byte(password)) == nil
}

// setPassword stores a new password and ends every session. With first it
// refuses when another visitor was quicker.
func (k *keyring) setPassword(password string, first bool) error {
	if len(password) < minPassword || len(password) > maxPassword {
		return newProblem(422, "password-length", "A password has %d to %d characters.", minPassword, maxPassword)
	}
	k.slot <- struct{}{}
	hash, err := bcrypt.GenerateFromPassword([]byte(password), k.cost)
	<-k.slot
	if err != nil {
		return fmt.Errorf("web: hash password: %w", err)
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	if first && k.file.Password != "" {
		return newProblem(409, "password-set", "A password is already set.")
	}
	old := k.file
	k.file = keyFile{Password: string(hash), Tokens: old.Tokens}
	if err := k.save(); err != nil {
		k.file = old
		return err
	}
	k.code = ""
	return nil
}

// open starts a session and returns its token. Past maxSessions the one that
// ends first goes.
func (k *keyring) open() (token string, err error) {
	raw := make([]byte, 32)
	if _, err := rand.Read(raw); err != nil {
		return "", fmt.Errorf("web: make session: %w", err)
	}
	token = hex.EncodeToString(raw)
	k.mu.Lock()
	defer k.mu.Unlock()
	k.prune()
	if len(k.file.Sessions) >= maxSessions {
		k.file.Sessions = slices.Delete(k.file.Sessions, 0, 1)
	}
	k.file.Sessions = append(k.file.Sessions, session{Hash: hashToken(token), Expires: k.now().Add(sessionLife)})
	return token, k.save()
}

func (k *keyring) prune() {
	now := k.now()
	k.file.Sessions = slices.DeleteFunc(k.file.Sessions, func(s session) bool { return !now.Before(s.Expires) })
}

func (k *keyring) signedIn(token string) bool {
	if token == "" {
		return false
	}
	hash := hashToken(token)
	k.mu.Lock()
	defer k.mu.Unlock()
	k.prune()
	return slices.ContainsFunc(k.file.Sessions, func(s session) bool {
		return subtle.ConstantTimeCompare([]byte(s.Hash), []byte(hash)) == 1
	})
}

func (k *keyring) close(token string) error {
	hash := hashToken(token)
	k.mu.Lock()
	defer k.mu.Unlock()
	k.file.Sessions = slices.DeleteFunc(k.file.Sessions, func(s session) bool { return s.Hash == hash })
	return k.save()
}

func hashToken(token string) string {
	sum := sha256.Sum256([]byte(token))
	return hex.EncodeToString(sum[:])
}
