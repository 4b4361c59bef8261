package web

import (
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
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
	log  *slog.Logger
	slot chan struct{} // one bcrypt at a time, whoever asks
	cost int           // of bcrypt

	mu      sync.Mutex // guards what follows
	file    keyFile
	code    string
	seen    os.FileInfo // of the file as it was read or written last; nil where there is none
	trouble error       // why it cannot be read; meanwhile no sign-in counts
}

// SetupCodeKey is the name of the set-up code in the log.
const SetupCodeKey = "setup_code"

// errAccessFile answers who wants to sign in while the file cannot be read.
var errAccessFile = newProblem(503, "access-file",
	"The file with the page's password cannot be read. Run 'leavend check', which says why; 'sudo leavend password forget' sets it aside.")

type keyFile struct {
	Password string    `json:"password_bcrypt"`
	Sessions []session `json:"sessions"`
	Tokens   []token   `json:"tokens,omitempty"`
}

type session struct {
	Hash    string    `json:"token_sha256"`
	Expires time.Time `json:"expires"`
}

func openKeyring(dir string, now func() time.Time, log *slog.Logger) *keyring {
	k := &keyring{now: now, log: log, slot: make(chan struct{}, 1), cost: bcryptCost}
	if dir != "" {
		k.path = filepath.Join(dir, accessFile)
	}
	k.refresh()
	if k.file.Password == "" && k.trouble == nil {
		k.code = newCode()
	}
	return k
}

// newCode makes a code with which the first password is chosen.
func newCode() string {
	var b [8]byte
	rand.Read(b[:])
	return fmt.Sprintf("%08d", binary.BigEndian.Uint64(b[:])%100_000_000)
}

// refresh takes in what has become of the file: 'leavend password forget' sets
// it aside, and a person may put a damaged one right. A file that cannot be read
// is no word that there is no password, which would open the door. The caller
// holds mu.
func (k *keyring) refresh() {
	if k.path == "" {
		return
	}
	info, err := os.Stat(k.path)
	switch {
	case errors.Is(err, fs.ErrNotExist) && k.seen == nil && k.trouble == nil: // there was none before
	case errors.Is(err, fs.ErrNotExist) && k.folderThere():
		k.forgotten()
	case err != nil:
		k.refuse(fmt.Errorf("web: read page access: %w", err))
	case k.seen == nil || !os.SameFile(k.seen, info) || !k.seen.ModTime().Equal(info.ModTime()) || k.seen.Size() != info.Size():
		k.seen = info
		k.load()
	}
}

// folderThere reports whether the data folder is there: a disk that was taken
// away takes no password with it.
func (k *keyring) folderThere() bool {
	_, err := os.Stat(filepath.Dir(k.path))
	return err == nil
}

// forgotten starts again without password and sessions.
func (k *keyring) forgotten() {
	k.file, k.seen, k.trouble, k.code = keyFile{}, nil, nil, newCode()
	k.log.Info("web: the password was forgotten; choose one on the page with this set-up code", slog.String(SetupCodeKey, k.code))
}

// refuse lets no visitor in until the file can be read.
func (k *keyring) refuse(err error) {
	k.file, k.code, k.seen, k.trouble = keyFile{}, "", nil, err
}

func (k *keyring) load() {
	var file keyFile
	b, err := os.ReadFile(k.path)
	if err != nil {
		k.refuse(fmt.Errorf("web: read page access: %w", err))
		return
	}
	if err := json.Unmarshal(b, &file); err != nil {
		k.refuse(fmt.Errorf("web: %s is damaged: %w", k.path, err))
		return
	}
	k.file, k.trouble = file, nil
	switch {
	case k.file.Password != "":
		k.code = ""
	case k.code == "":
		k.code = newCode()
	}
}

// usable returns an error while the file cannot be read.
func (k *keyring) usable() error {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.refresh()
	return k.trouble
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
	if err := writeWhole(k.path, b, 0o600); err != nil {
		return err
	}
	k.seen, err = os.Stat(k.path)
	return err
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
	k.refresh()
	return k.code
}

// hasPassword reports whether there is a password, as far as can be told.
func (k *keyring) hasPassword() bool {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.refresh()
	return k.file.Password != "" || k.trouble != nil
}

// codeFits compares a set-up code in constant time.
func (k *keyring) codeFits(code string) bool {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.refresh()
	return k.code != "" && subtle.ConstantTimeCompare([]byte(k.code), []byte(code)) == 1
}

// passwordFits takes its time, and one caller at a time.
func (k *keyring) passwordFits(password string) bool {
	k.mu.Lock()
	k.refresh()
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
	k.refresh()
	if k.trouble != nil {
		return errAccessFile
	}
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
	k.refresh()
	if k.trouble != nil {
		return "", errAccessFile
	}
	k.prune()
	if len(k.file.Sessions) >= maxSessions {
		k.file.Sessions = slices.Delete(k.file.Sessions, 0, 1)
	}
	k.file.Sessions = append(k.file.Sessions, session{Hash: hashToken(token), Expires: k.now().Add(sessionLife)})
	if err := k.save(); err != nil {
		// A full disk must not keep the baker from the mat's switch.
		k.log.Warn("web: a session cannot be stored; it lasts until leavend restarts", slog.Any("err", err))
	}
	return token, nil
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
	k.refresh()
	k.prune()
	return slices.ContainsFunc(k.file.Sessions, func(s session) bool {
		return subtle.ConstantTimeCompare([]byte(s.Hash), []byte(hash)) == 1
	})
}

func (k *keyring) close(token string) error {
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

func hashToken(token string) string {
	sum := sha256.Sum256([]byte(token))
	return hex.EncodeToString(sum[:])
}
