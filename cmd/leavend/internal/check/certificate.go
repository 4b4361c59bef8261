package check

import (
	"crypto/tls"
	"errors"
	"io/fs"
	"time"

	"leavend/cmd/leavend/internal/text"
)

// Certificate checks that a certificate and its key can be read, belong
// together, and are valid now and for some time to come.
func (b Board) Certificate(topic, certFile, keyFile string) Result {
	pair, err := tls.LoadX509KeyPair(certFile, keyFile)
	if err != nil {
		file := text.Name("file", keyFile)
		r := fail(topic, "check.cert.unusable", text.Cause("err", err), text.Name("cert", certFile), file).without(topic)
		if errors.Is(err, fs.ErrPermission) {
			r.Do = text.Say("check.cert.rights", file)
		}
		return r
	}
	leaf := pair.Leaf
	from, until := text.Name("day", leaf.NotBefore.Format(time.DateOnly)), text.Name("day", leaf.NotAfter.Format(time.DateOnly))
	switch {
	case b.Now.After(leaf.NotAfter):
		return fail(topic, "check.cert.expired", until).without(topic)
	case b.Now.Before(leaf.NotBefore):
		return fail(topic, "check.cert.early", from).without(topic)
	case leaf.NotAfter.Sub(b.Now) < 14*24*time.Hour:
		return warn(topic, "check.cert.soon", until)
	}
	return pass(topic, "check.cert.good", until)
}
