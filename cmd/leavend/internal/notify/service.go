package notify

import (
	"context"
	"mime"
	"net/url"
	"strings"
	"sync/atomic"
	"time"

	"github.com/nicholas-fedor/shoutrrr/pkg/router"
	"github.com/nicholas-fedor/shoutrrr/pkg/types"
)

// service sends through one of shoutrrr's services.
type service struct {
	address *url.URL
	scheme  string
	hung    atomic.Int32 // sends that did not end in time and may still be waiting
}

// mostHung bounds the sends that may be left waiting.
const mostHung = 3

// sendLimit is how long a send may take.
const sendLimit = 30 * time.Second

func newService(u *url.URL) (Sender, error) {
	scheme, _, _ := strings.Cut(strings.ToLower(u.Scheme), "+")
	if scheme == "logger" {
		return nil, &Failure{Address, "a logger is no way to tell anybody"}
	}
	if _, err := locate(u); err != nil {
		// The cause quotes the address, password and all.
		return nil, &Failure{Address, "the address is not one that service " + known(scheme) + " understands"}
	}
	return &service{address: u, scheme: scheme}, nil
}

// locate makes one of shoutrrr's services. Each send has its own, since a send
// changes what the service knows of its address.
func locate(u *url.URL) (types.Service, error) {
	return new(router.ServiceRouter).Locate(u.String())
}

// known returns a scheme that is a service's name, and nothing else: a
// mistyped address may have a secret in its place.
func known(scheme string) string {
	for _, name := range new(router.ServiceRouter).ListServices() {
		if name == scheme {
			return name
		}
	}
	return `(there is none of that name; it stands before "://")`
}

func (s *service) Send(ctx context.Context, l Message) error {
	if s.hung.Load() >= mostHung {
		return &Failure{Passing, "its server took connections and never answered"}
	}
	to, err := locate(s.address)
	if err != nil {
		return &Failure{Address, "the address is not understood any more"}
	}
	errs := make(chan error, 1)
	s.hung.Add(1)
	go func() {
		defer s.hung.Add(-1)
		errs <- to.Send(body(l), s.params(l))
	}()
	select {
	case err := <-errs:
		return failure(err)
	case <-ctx.Done():
		return failure(ctx.Err())
	}
}

// body is the text with the link below it.
func body(l Message) string {
	if l.Link == "" {
		return l.Text
	}
	return l.Text + "\n\n" + Renderer{}.ackLine(l.Link)
}

// params are what a service takes beside the text. A mail's subject may hold
// ASCII only (RFC 5322), so anything else is encoded (RFC 2047).
func (s *service) params(l Message) *types.Params {
	p := types.Params{types.TitleKey: strings.Join(strings.Fields(l.Title), " ")}
	switch {
	case s.scheme == "smtp":
		p["subject"] = mime.QEncoding.Encode("utf-8", p[types.TitleKey])
		delete(p, types.TitleKey)
	case s.scheme == "ntfy":
		p[types.TitleKey] = mime.QEncoding.Encode("utf-8", p[types.TitleKey])
		if l.Urgent {
			p["priority"] = "max"
		}
		if l.Link != "" {
			p["click"] = l.Link
			p["actions"] = "http, " + ackButton + ", " + l.Link + ", method=POST, clear=true"
		}
	}
	return &p
}
