package mqtt

import (
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"errors"
	"fmt"
	"log/slog"
	"strings"
	"sync/atomic"
	"time"

	mqtt "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/packets"
)

// User may connect to our broker.
type User struct {
	Name     string
	Password func() (string, error) // fetched when a port opens; only its hash stays in memory
}

// ownUser is the name that our own client logs in with; no other client can have it.
const ownUser = "leavend (own)"

// slowDown is how long a wrong password takes to be refused.
const slowDown = 300 * time.Millisecond

// authHook decides who comes into the broker and what they may say there. It
// implements the broker library's hook.
type authHook struct {
	mqtt.HookBase
	server  *mqtt.Server
	users   atomic.Pointer[userList] // nil allows everybody; set before the first port for others opens
	prefix  string
	guarded []string
	plug    PlugAccess
	open    []string
	secret  string // our own client's password
	guesses guesses
	log     *slog.Logger
}

// ID names the hook to the library.
func (d *authHook) ID() string { return "leavend-auth" }

// Provides tells the library which questions to ask here.
func (d *authHook) Provides(b byte) bool {
	return b == mqtt.OnConnectAuthenticate || b == mqtt.OnACLCheck
}

// OnConnectAuthenticate lets a client in or not. The library does not check a
// last will against the rights of its owner, so that is done here.
func (d *authHook) OnConnectAuthenticate(cl *mqtt.Client, pk packets.Packet) bool {
	name, password := string(pk.Connect.Username), string(pk.Connect.Password)
	inner := isOwn(cl)
	account := d.account(cl, name)
	if d.guesses.waits(account, time.Now()) {
		return false
	}
	switch {
	case inner != (name == ownUser), !inner && d.isOurs(cl.ID):
	case inner && subtle.ConstantTimeCompare([]byte(password), []byte(d.secret)) == 1:
		return true
	case !inner && d.users.Load().allows(name, password):
		if !pk.Connect.WillFlag || d.mayWrite(name, pk.Connect.WillTopic) {
			return true
		}
		d.log.Warn("broker: refused a client whose last will is on a guarded topic", "remote", cl.Net.Remote, "topic", pk.Connect.WillTopic)
		return false
	}
	if wait := d.guesses.wrong(account, time.Now()); wait > 0 {
		d.log.Warn("broker: wrong logins; this user has to wait at this address", "remote", cl.Net.Remote, "user", clip(name), "wait", wait)
	} else {
		d.log.Warn("broker: refused a client", "remote", cl.Net.Remote, "user", clip(name))
	}
	time.Sleep(slowDown)
	return false
}

// account is what wrong logins are counted by: the user's name and the address.
// By the address alone a device with an old password would keep others on the
// same machine out. All names that are unknown count as one.
func (d *authHook) account(cl *mqtt.Client, name string) account {
	if !d.users.Load().knows(name) {
		name = ""
	}
	return account{name, addressOf(cl.Net.Remote)}
}

// isOurs reports whether a client id is in use by our own client. A stranger
// with the same id would take its session over.
func (d *authHook) isOurs(id string) bool {
	other, ok := d.server.Clients.Get(id)
	return ok && isOwn(other)
}

// OnACLCheck lets every client read, unless it has too many subscriptions, and
// write where it does no harm.
func (d *authHook) OnACLCheck(cl *mqtt.Client, topic string, write bool) bool {
	if !write {
		return isOwn(cl) || cl.State.Subscriptions.Len() <= maxFilters
	}
	user := string(cl.Properties.Username)
	return user == ownUser || d.mayWrite(user, topic)
}

// mayWrite reports whether a user may publish to topic: a command to us may
// come from anybody but a plug, our states and a plug's commands only by us, and
// a plug's word only by the plug.
func (d *authHook) mayWrite(user, topic string) bool {
	ours := strings.HasPrefix(topic, d.prefix+"/")
	switch {
	case topic == "" || strings.HasPrefix(topic, "$"):
		return false
	case anyMatches(d.guarded, topic), anyMatches(d.plug.CommandTopics, topic):
		return false
	case d.plug.User == "":
	case user == d.plug.User:
		return !ours
	case anyMatches(d.plug.StateTopics, topic), d.plugSubscribes(topic):
		return false
	}
	return !ours || strings.HasSuffix(topic, "/set")
}

// userList holds who may come in. Passwords are kept as keyed hashes, which
// makes the comparison independent of how much of a guess is right.
type userList struct {
	key  []byte
	sums map[string][]byte // by name
}

// hashUsers returns nil, which allows everybody, if there are no users.
func hashUsers(users []User) (*userList, error) {
	if len(users) == 0 {
		return nil, nil
	}
	l := &userList{key: make([]byte, 32), sums: map[string][]byte{}}
	rand.Read(l.key)
	for _, u := range users {
		if err := l.add(u); err != nil {
			return nil, fmt.Errorf("mqtt: broker: user %q: %w", u.Name, err)
		}
	}
	return l, nil
}

func (l *userList) add(u User) error {
	password, err := u.Password()
	switch {
	case err != nil:
		return err
	case u.Name == "" || u.Name == ownUser:
		return errors.New("the name cannot be used")
	case l.knows(u.Name):
		return errors.New("stands twice")
	case password == "":
		return errors.New("needs a password")
	}
	l.sums[u.Name] = l.sum(password)
	return nil
}

func (l *userList) sum(password string) []byte {
	m := hmac.New(sha256.New, l.key)
	m.Write([]byte(password))
	return m.Sum(nil)
}

// knows reports whether there is a user of this name.
func (l *userList) knows(name string) bool { return l != nil && l.sums[name] != nil }

// allows reports whether name may come in with password. A nil list allows
// everybody.
func (l *userList) allows(name, password string) bool {
	if l == nil {
		return true
	}
	want := l.sums[name]
	if want == nil {
		want = make([]byte, sha256.Size)
	}
	return subtle.ConstantTimeCompare(l.sum(password), want) == 1 && l.knows(name)
}
