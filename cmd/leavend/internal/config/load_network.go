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
		s.warn("password", "stands in the file; password_file or password_env keeps it from whoever reads the config")
	}
	s.done()
}

// readBroker checks what a broker needs: ours a login when others can reach it,
// another one an address.
func readBroker(s *section, m *MQTT) {
	login := m.User != "" && m.Password.IsSet()
	s.need(!m.Password.IsSet() || m.User != "", "user", "must be given with a password")
	if m.URL == "" {
		s.need(m.User == "" || m.Password.IsSet(), "password_file", "must be given with a user")
		if m.On && !Loopback(m.Listen) && !login {
			s.wrong("listen", "%q lets the whole network in, so user and password_file must be given; or listen on 127.0.0.1:1883", m.Listen)
		}
		if m.On && m.ListenTLS != "" && !Loopback(m.ListenTLS) && !login {
			s.wrong("listen_tls", "%q lets the whole network in, so user and password_file must be given", m.ListenTLS)
		}
		s.need(m.ListenTLS == "" || m.CertFile != "", "cert_file", "must be given with listen_tls, and key_file too")
		if m.CertFile != "" && m.ListenTLS == "" {
			s.wrong("cert_file", "is used with listen_tls or with another broker's url; give one of them")
		}
		if m.CAFile != "" {
			s.wrong("ca_file", "is for another broker; give its url, or leave ca_file out")
		}
		return
	}
	u, err := url.Parse(m.URL)
	schemes := []string{"mqtt", "mqtts"}
	switch {
	case err != nil || u.Host == "" || !slices.Contains(schemes, u.Scheme):
		// The text is not repeated: it may hold a password.
		s.wrong("url", `is not the address of a broker; write it like "mqtt://192.0.2.7:1883" or "mqtts://broker.example:8883"`)
	case u.Path != "" && u.Path != "/" || u.RawQuery != "" || u.Fragment != "":
		s.wrong("url", "has something after the port; topics begin with prefix")
	case u.User != nil:
		s.wrong("url", "must not hold a login; use user and password_file")
	case s.given("listen") || s.given("listen_tls"):
		s.wrong("url", "names another broker, but listen is for the one in the daemon; keep one of them")
	case u.Scheme == "mqtt" && (m.CAFile != "" || m.CertFile != ""):
		s.wrong("url", "starts with %q, which is not encrypted, but certificates are given; use mqtts://", u.Scheme+"://")
	case login && u.Scheme == "mqtt" && !Loopback(net.JoinHostPort(u.Hostname(), "0")):
		s.warn("url", "sends the password over the network in the clear; mqtts:// would not")
	}
}

// topicLevel reads the first levels of a topic.
func topicLevel(s *section, key string, dst *string) {
	got := *dst
	s.text(key, &got)
	if got == "" || strings.ContainsAny(got, "+#$ ") || strings.HasPrefix(got, "/") || strings.HasSuffix(got, "/") {
		s.wrong(key, `%q cannot start a topic; use a plain word such as "leavend"`, got)
		return
	}
	*dst = got
}

// pair demands that two keys are given together.
func (s *section) pair(a, b string) {
	s.need(!s.given(a) || s.given(b), b, "must be given with %s", a)
	s.need(!s.given(b) || s.given(a), a, "must be given with %s", b)
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
		s.wrong(key, `%q is not an address to listen on; write it like "127.0.0.1:8420", or ":8420" for the whole network`, got)
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
		s.missing("cert_file", `must be given with tls = "files"`)
	case w.TLS != TLSFiles && s.given("cert_file"):
		s.wrong("cert_file", `is used with tls = "files" only; tls is %q`, w.TLS)
	}
	for _, host := range w.Hosts {
		if strings.ContainsAny(host, "/: ") || host == "" {
			s.wrong("hosts", `%q is not a host name; write it like "kitchen.example", without http:// and port`, host)
		}
	}
	if w.On && w.TLS == TLSOff && !Loopback(w.Listen) {
		s.warn("listen", "the page is reached over the network without TLS, so its password travels in the clear; tls = \"self-made\" would encrypt it")
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
	s.span("heads_up", &n.HeadsUp, 0, 6*time.Hour, "")
	s.span("repeat_every", &n.RepeatEvery, 0, 6*time.Hour, "")
	s.whole("repeats", &n.Repeats, 0, 50)
	s.whole("max_per_hour", &n.MaxPerHour, 1, 60)
	s.flag("quiet_upkeep", &n.QuietUpkeep)
	s.need(n.Name != "", "name", "must be given: messages are logged and counted by it")
	s.need(n.URL.IsSet(), "url_file", "one of url_file, url_env and url must be given: where messages go")
	s.together("quiet_from", "quiet_to")
	if n.RepeatEvery > 0 && n.RepeatEvery < time.Minute {
		s.wrong("repeat_every", "%s is below the limit 1m; 0s is never", text.Spell(n.RepeatEvery))
	}
	if s.given("url") {
		s.warn("url", "stands in the file; url_file or url_env keeps a password in it from whoever reads the config")
	}
	s.done()
	return n
}
