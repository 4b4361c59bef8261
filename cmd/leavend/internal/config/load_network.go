package config

import (
	"net"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"leavend/cmd/leavend/internal/text"
)

func readMqtt(s *section, m *MQTT) {
	s.flag("on", &m.On)
	s.text("url", &m.URL)
	s.address("listen", &m.Listen)
	s.address("listen_tls", &m.ListenTLS)
	s.text("user", &m.User)
	s.secret("password", &m.Password)
	s.text("client_id", &m.ClientID)
	s.file("ca_file", &m.CAFile)
	s.file("cert_file", &m.CertFile)
	s.file("key_file", &m.KeyFile)
	topicLevel(s, "prefix", &m.Prefix)
	s.flag("discovery", &m.Discovery)
	topicLevel(s, "discovery_prefix", &m.DiscoveryPrefix)
	s.pair("cert_file", "key_file")
	readBroker(s, m)
	if s.given("password") {
		s.warn("password", "config.in_file", text.Name("key", "password"))
	}
	s.done()
}

// readBroker checks what a broker needs: ours a login when others can reach it,
// another one an address.
func readBroker(s *section, m *MQTT) {
	login := m.User != "" && m.Password.IsSet()
	s.mustWith(!m.Password.IsSet() || m.User != "", "user", "password")
	if m.URL == "" {
		s.mustWith(m.User == "" || m.Password.IsSet(), "password_file", "user")
		if m.On && !Loopback(m.Listen) && !login {
			s.wrong("listen", "config.listen_open", text.Name("given", m.Listen))
		}
		if m.On && m.ListenTLS != "" && !Loopback(m.ListenTLS) && !login {
			s.wrong("listen_tls", "config.listen_open", text.Name("given", m.ListenTLS))
		}
		s.mustWith(m.ListenTLS == "" || m.CertFile != "", "cert_file", "listen_tls")
		if m.CertFile != "" && m.ListenTLS == "" {
			s.wrong("cert_file", "config.cert_unused")
		}
		if m.CAFile != "" {
			s.wrong("ca_file", "config.ca_unused")
		}
		return
	}
	u, err := url.Parse(m.URL)
	schemes := []string{"mqtt", "mqtts"}
	switch {
	case err != nil || u.Host == "" || !slices.Contains(schemes, u.Scheme):
		// The text is not repeated: it may hold a password.
		s.wrong("url", "config.url")
	case u.Path != "" && u.Path != "/" || u.RawQuery != "" || u.Fragment != "":
		s.wrong("url", "config.url_path")
	case u.User != nil:
		s.wrong("url", "config.url_login")
	case s.given("listen") || s.given("listen_tls"):
		s.wrong("url", "config.url_listen")
	case u.Scheme == "mqtt" && (m.CAFile != "" || m.CertFile != ""):
		s.wrong("url", "config.url_certs")
	case login && u.Scheme == "mqtt" && !Loopback(net.JoinHostPort(u.Hostname(), "0")):
		s.warn("url", "config.url_clear")
	}
}

// topicLevel reads the first levels of a topic.
func topicLevel(s *section, key string, dst *string) {
	got := *dst
	s.text(key, &got)
	if got == "" || strings.ContainsAny(got, "+#$ ") || strings.HasPrefix(got, "/") || strings.HasSuffix(got, "/") {
		s.wrong(key, "config.topic_start", text.Name("given", got))
		return
	}
	*dst = got
}

// pair demands that two keys are given together.
func (s *section) pair(a, b string) {
	s.mustWith(!s.given(a) || s.given(b), b, a)
	s.mustWith(!s.given(b) || s.given(a), a, b)
}

// address reads an address to listen on: "127.0.0.1:8420", or ":8420" for
// all of the board's addresses.
func (s *section) address(key string, dst *string) {
	got := ""
	s.text(key, &got)
	if !s.given(key) || s.table.fields[key].shape != isText {
		return
	}
	host, port, err := net.SplitHostPort(got)
	number, perr := strconv.Atoi(port)
	if err != nil || perr != nil || number < 1 || number > 65535 || strings.ContainsAny(host, " /") {
		s.wrong(key, "config.address", text.Name("given", got))
		return
	}
	*dst = got
}

func readWeb(s *section, w *Web) {
	s.flag("on", &w.On)
	s.address("listen", &w.Listen)
	word(s, "tls", &w.TLS, TLSOff, TLSSelfMade, TLSFiles)
	s.file("cert_file", &w.CertFile)
	s.file("key_file", &w.KeyFile)
	s.flag("open_read", &w.OpenRead)
	s.texts("hosts", &w.Hosts)
	s.pair("cert_file", "key_file")
	switch {
	case w.TLS == TLSFiles && w.CertFile == "" && !s.given("key_file"):
		s.mustWith(false, "cert_file", `tls = "files"`)
	case w.TLS != TLSFiles && s.given("cert_file"):
		s.wrong("cert_file", "config.tls_files", text.Name("given", string(w.TLS)))
	}
	for _, host := range w.Hosts {
		if strings.ContainsAny(host, "/: ") || host == "" {
			s.wrong("hosts", "config.host", text.Name("given", host))
		}
	}
	if w.On && w.TLS == TLSOff && !Loopback(w.Listen) {
		s.warn("listen", "config.web_clear")
	}
	s.done()
}

func readMetrics(s *section, m *Metrics) {
	s.flag("on", &m.On)
	s.address("listen", &m.Listen)
	s.file("web_config_file", &m.WebConfigFile)
	s.done()
}

func readRecipient(s *section) Recipient {
	n := DefaultRecipient()
	s.text("name", &n.Name)
	s.secret("url", &n.URL)
	s.secret("key", &n.Key)
	wordList(s, "kinds", &n.Kinds, NoticeKinds()...)
	s.clock("quiet_from", &n.QuietFrom)
	s.clock("quiet_to", &n.QuietTo)
	s.span("heads_up", &n.HeadsUp, 0, 6*time.Hour)
	s.span("repeat_every", &n.RepeatEvery, 0, 6*time.Hour)
	s.whole("repeats", &n.Repeats, 0, 50)
	s.whole("max_per_hour", &n.MaxPerHour, 1, 60)
	s.flag("quiet_upkeep", &n.QuietUpkeep)
	s.must(n.Name != "", "name")
	s.need(n.URL.IsSet(), "url_file", "config.must_or", text.Name("other", "url_env"))
	s.together("quiet_from", "quiet_to")
	if n.RepeatEvery > 0 && n.RepeatEvery < time.Minute {
		s.wrong("repeat_every", "config.repeat", text.Name("given", text.Spell(n.RepeatEvery)))
	}
	if s.given("url") {
		s.warn("url", "config.in_file", text.Name("key", "url"))
	}
	s.done()
	return n
}
