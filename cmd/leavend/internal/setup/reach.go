package setup

import (
	"context"
	"net"
	"strconv"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/web"
)

// SetReach lets the home network reach the page, or this board only.
func (w *Setup) SetReach(_ context.Context, ask web.ReachAsk) (begin func(), err error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	conf, before, err := w.present()
	if err != nil {
		return nil, err
	}
	settings := reachSettings(conf.Web, ask)
	if len(settings) == 0 {
		return nil, nil
	}
	after, err := config.Edit(before, w.file, "web", "", settings...)
	if err != nil {
		return nil, &failure.Refusal{Code: "config", Say: problems(err)}
	}
	w.log.Info("from where the page is reached is changed; restarting", "home network", ask.Open)
	return w.keepText(before, after)
}

// reachSettings are the keys that have to change.
func reachSettings(c config.Web, ask web.ReachAsk) (out []config.Setting) {
	if ask.TLS != "" && c.TLS != config.TLSFiles && string(c.TLS) != ask.TLS {
		out = append(out, config.Setting{Key: "tls", Value: strconv.Quote(ask.TLS)})
	}
	if ask.Open != config.Loopback(c.Listen) {
		return out
	}
	_, port, _ := net.SplitHostPort(c.Listen) // the config has been checked
	host := ""
	if !ask.Open {
		host = "127.0.0.1"
	}
	return append(out, config.Setting{Key: "listen", Value: strconv.Quote(net.JoinHostPort(host, port))})
}
