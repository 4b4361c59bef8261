package notify

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/textproto"
	"net/url"
	"os"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"syscall"

	"github.com/nicholas-fedor/shoutrrr/pkg/util/jsonclient"
)

// Sender brings messages to one address.
type Sender interface {
	// Send returns nil when the other side has taken the message. Its error is a
	// *Failure, which holds no secret.
	Send(ctx context.Context, l Message) error
}

// Fate is what may become of a message that was not taken.
type Fate uint8

// The fates.
const (
	Passing Fate = iota // it may be taken later
	Address             // not until the address is put right
	Refused             // never
)

// Failure says why a message was not taken, in words that hold no secret.
type Failure struct {
	Fate Fate
	Why  string
}

func (f *Failure) Error() string { return f.Why }

// Open makes the sender for an address: a webhook for https:// and http://,
// signed with key unless that is empty, or else a service of shoutrrr.
func Open(address, key string) (Sender, error) {
	u, err := url.Parse(strings.TrimSpace(address))
	if err != nil || u.Scheme == "" {
		// The cause would quote the address.
		return nil, &Failure{Address, `the address is none; it looks like "ntfy://host/topic" or "https://host/path"`}
	}
	if s := strings.ToLower(u.Scheme); s == "https" || s == "http" {
		return newWebhook(u, key)
	}
	return newService(u)
}

// failure turns any error of a send into one that holds no secret: it reads
// the error and says what it knows in words of its own.
func failure(err error) error {
	var known *Failure
	var answer jsonclient.Error
	var smtp *textproto.Error
	var dns *net.DNSError
	var timeout net.Error
	switch {
	case err == nil:
		return nil
	case errors.As(err, &known):
		return known
	case errors.As(err, &answer) && answer.StatusCode >= 300:
		return ofStatus(answer.StatusCode)
	case errors.As(err, &smtp):
		return ofMail(smtp.Code)
	case errors.As(err, &dns):
		return &Failure{Passing, "the name of its server is not known: no network, or a mistyped address"}
	case errors.Is(err, syscall.ECONNREFUSED):
		return &Failure{Passing, "its server refuses the connection"}
	case errors.Is(err, syscall.ENETUNREACH), errors.Is(err, syscall.EHOSTUNREACH):
		return &Failure{Passing, "its server cannot be reached"}
	case errors.Is(err, context.DeadlineExceeded), errors.Is(err, os.ErrDeadlineExceeded), errors.As(err, &timeout) && timeout.Timeout():
		return &Failure{Passing, "its server does not answer in time"}
	}
	return ofText(err.Error())
}

// ofStatus judges an HTTP status (RFC 9110, section 15).
func ofStatus(code int) *Failure {
	f := &Failure{Passing, fmt.Sprintf("its server answers %d", code)}
	switch {
	case code == 401 || code == 403:
		f.Fate, f.Why = Address, f.Why+": the login or token in the address is not accepted"
	case code == 404 || code == 410:
		f.Fate, f.Why = Address, f.Why+": there is no such address"
	case code == 408 || code == 425 || code == 429:
		f.Why += ": too busy"
	case code >= 300 && code < 400:
		f.Fate, f.Why = Address, f.Why+": it has moved; change the address"
	case code >= 400 && code < 500:
		f.Fate, f.Why = Refused, f.Why+": it does not take this message"
	}
	return f
}

// ofMail judges a reply of SMTP (RFC 5321, section 4.2; RFC 4954 for logins).
func ofMail(code int) *Failure {
	f := &Failure{Passing, fmt.Sprintf("its mail server answers %d", code)}
	switch {
	case code == 530 || code == 534 || code == 535 || code == 538:
		f.Fate, f.Why = Address, f.Why+": the login is not accepted"
	case code == 550 || code == 551 || code == 553 || code == 556:
		f.Fate, f.Why = Address, f.Why+": it does not know or not allow that mail address"
	case code >= 500:
		f.Fate, f.Why = Refused, f.Why+": it does not take this message"
	}
	return f
}

// A status in the texts of errors whose chain was lost on the way.
// The second form is that of push servers that answer with a code of their
// own, five digits of which the first three are the status.
var statusInText = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`(?i)(?:status|HTTP)[^0-9]{0,12}([345]\d\d)\b|server response: .*\(([345]\d\d)\d\d\)`)
})

// ofText reads what it can from a text and repeats none of it.
func ofText(text string) *Failure {
	if m := statusInText().FindStringSubmatch(text); m != nil {
		code, _ := strconv.Atoi(m[1] + m[2]) // one of them is empty
		return ofStatus(code)
	}
	for has, says := range map[string]string{
		"connection refused": "its server refuses the connection",
		"no such host":       "the name of its server is not known: no network, or a mistyped address",
		"timed out":          "its server does not answer in time",
		"timeout":            "its server does not answer in time",
		"certificate":        "its server shows a certificate that is not trusted",
		"unreachable":        "its server cannot be reached",
	} {
		if strings.Contains(text, has) {
			return &Failure{Passing, says}
		}
	}
	return &Failure{Passing, "it could not be sent; 'leavend notify test' may tell more"}
}
