// Package access keeps what opens the page: the password, the sessions of who
// signed in, and the tokens of programs. It slows down who guesses.
package access

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
	"sync"
	"time"

	"golang.org/x/crypto/bcrypt"

	"leavend/cmd/leavend/internal/atomicfile"
	"leavend/cmd/leavend/internal/web/problem"
)

// Limits of what the keyring keeps.
const (
	minPassword = 8
	maxPassword = 72 // bcrypt reads no further, so a longer one would lie
	maxSessions = 64
	// bcryptCost takes about a tenth of a second on a desktop and a second or
	// two on the smallest boards. bcrypt rather than argon2id, because one try
	// needs kilobytes and not 19 MiB of a board that may have 512.
	bcryptCost = 11
)

// SessionLife is how long a session lasts.
const SessionLife = 60 * 24 * time.Hour

// Keyring keeps the password's hash and the open sessions. Tokens are kept
// as hashes, so a copy of the file opens nothing.
type Keyring struct {
	path string // "" keeps everything in memory
	now  func() time.Time
	log  *slog.Logger
	slot chan struct{} // one bcrypt at a time, whoever asks
	Cost int           // of bcrypt; set before use

	mu      sync.Mutex // guards what follows
	file    keyFile
	code    string
	seen    os.FileInfo // of the file as it was read or written last; nil where there is none
	trouble error       // why it cannot be read; meanwhile no sign-in counts
}

// SetupCodeKey is the name of the set-up code in the log.
const SetupCodeKey = "setup_code"

// ErrFile answers who wants to sign in while the file cannot be read.
var ErrFile = problem.New(503, "access-file",
	"The file with the page's password cannot be read. Run 'leavend check', which says why; 'sudo leavend password forget' sets it aside.")

type keyFile struct {
	Password string    `json:"password_bcrypt"`
	Sessions []session `json:"sessions"`
	Tokens   []Token   `json:"tokens,omitempty"`
}

type session struct {
	Hash    string    `json:"token_sha256"`
	Expires time.Time `json:"expires"`
}

// Open reads what is kept in a data folder; "" keeps everything in memory.
func Open(dir string, now func() time.Time, log *slog.Logger) *Keyring {
	k := &Keyring{now: now, log: log, slot: make(chan struct{}, 1), Cost: bcryptCost}
	if dir != "" {
		k.path = filepath.Join(dir, File)
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
func (k *Keyring) refresh() {
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
func (k *Keyring) folderThere() bool {
	_, err := os.Stat(filepath.Dir(k.path))
	return err == nil
}

// forgotten starts again without password and sessions.
func (k *Keyring) forgotten() {
	k.file, k.seen, k.trouble, k.code = keyFile{}, nil, nil, newCode()
	k.log.Info("web: the password was forgotten; choose one on the page with this set-up code", slog.String(SetupCodeKey, k.code))
}

// refuse lets no visitor in until the file can be read.
func (k *Keyring) refuse(err error) {
	k.file, k.code, k.seen, k.trouble = keyFile{}, "", nil, err
}

func (k *Keyring) load() {
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

// Usable returns an error while the file cannot be read.
func (k *Keyring) Usable() error {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.refresh()
	return k.trouble
}

// save writes the file whole or not at all. The caller holds mu.
func (k *Keyring) save() error {
	if k.path == "" {
		return nil
	}
	b, err := json.MarshalIndent(k.file, "", "  ")
	if err != nil {
		return fmt.Errorf("web: encode page access: %w", err)
	}
	if err := atomicfile.Write(k.path, b, 0o600); err != nil {
		return fmt.Errorf("web: write %s: %w", k.path, err)
	}
	k.seen, err = os.Stat(k.path)
	return err
}

// SetupCode is the code with which the first password is chosen; "" once there is one.
func (k *Keyring) SetupCode() string {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.refresh()
	return k.code
}

// HasPassword reports whether there is a password, as far as can be told.
func (k *Keyring) HasPassword() bool {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.refresh()
	return k.file.Password != "" || k.trouble != nil
}

// CodeFits compares a set-up code in constant time.
func (k *Keyring) CodeFits(code string) bool {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.refresh()
	return k.code != "" && subtle.ConstantTimeCompare([]byte(k.code), []byte(code)) == 1
}

// PasswordFits takes its time, and one caller at a time.
func (k *Keyring) PasswordFits(password string) bool {
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

// SetPassword stores a new password and ends every session. With first it
// refuses when another visitor was quicker.
func (k *Keyring) SetPassword(password string, first bool) error {
	if len(password) < minPassword || len(password) > maxPassword {
		return problem.New(422, "password-length", "A password has %d to %d characters.", minPassword, maxPassword)
	}
	k.slot <- struct{}{}
	hash, err := bcrypt.GenerateFromPassword([]byte(password), k.Cost)
	<-k.slot
	if err != nil {
		return fmt.Errorf("web: hash password: %w", err)
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	k.refresh()
	if k.trouble != nil {
		return ErrFile
	}
	if first && k.file.Password != "" {
		return problem.New(409, "password-set", "A password is already set.")
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

func hashToken(token string) string {
	sum := sha256.Sum256([]byte(token))
	return hex.EncodeToString(sum[:])
}
