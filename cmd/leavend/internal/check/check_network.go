package check

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"net"
	"strings"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/mqtt"
	"leavend/cmd/leavend/internal/text"
	"leavend/cmd/leavend/internal/web/access"

	paho "github.com/eclipse/paho.mqtt.golang"
	exporter "github.com/prometheus/exporter-toolkit/web"
)

// brokerPatience is how long a broker may take to let us in.
const brokerPatience = 10 * time.Second

// checkNetwork looks at the addresses that are listened on, the secrets, and
// the broker.
func checkNetwork(ctx context.Context, c *config.Config, b Board, running bool) []Result {
	out := secretFiles(c, b)
	if c.Web.On {
		out = append(out, b.Port("page", "web.listen", c.Web.Listen, running))
		out = append(out, pageAccess(c.DataDir)...)
	}
	if c.Web.On && c.Web.TLS == config.TLSFiles {
		out = append(out, b.Certificate("page", c.Web.CertFile, c.Web.KeyFile))
	}
	if c.MQTT.On && c.MQTT.CertFile != "" {
		out = append(out, b.Certificate("mqtt", c.MQTT.CertFile, c.MQTT.KeyFile))
	}
	if c.Metrics.On {
		out = append(out, b.Port("metrics", "metrics.listen", c.Metrics.Listen, running))
	}
	if file := c.Metrics.WebConfigFile; c.Metrics.On && file != "" {
		if err := exporter.Validate(file); err != nil {
			out = append(out, fail("metrics", "check.metrics.file", text.Name("file", file), text.Cause("err", err)).without("metrics"))
		}
	}
	switch {
	case c.MQTT.Embedded():
		out = append(out, b.Port("mqtt", "mqtt.listen", c.MQTT.Listen, running))
		if c.MQTT.ListenTLS != "" {
			out = append(out, b.Port("mqtt", "mqtt.listen_tls", c.MQTT.ListenTLS, running))
		}
	case c.MQTT.On:
		out = append(out, CheckBroker(ctx, c.MQTT, b))
	}
	return out
}

// pageAccess checks the file with the page's password.
func pageAccess(dir string) []Result {
	if err := access.Check(dir); err != nil {
		return []Result{fail("page", "check.page.access", text.Cause("err", err)).without("sign_in")}
	}
	return nil
}

// brokerTopic is the topic of what is said of the MQTT broker.
const brokerTopic = "mqtt"

// CheckBroker signs in to another broker, and out again.
func CheckBroker(ctx context.Context, m config.MQTT, b Board) Result {
	u, err := config.BrokerURL(m.URL)
	if err != nil { // the configuration has been checked, so this does not come
		return fail(brokerTopic, "check.broker.unusable", text.Cause("err", err)).without(brokerTopic)
	}
	if _, err := mqtt.LoadTLS(m.CAFile, m.CertFile, m.KeyFile); err != nil {
		r := fail(brokerTopic, "check.broker.unusable", text.Cause("err", err)).without(brokerTopic)
		r.Do = text.Say("check.broker.files_do")
		return r
	}
	conn, err := b.Dial(u.Host)
	if err != nil {
		return unreachable(u.Host, err).without(brokerTopic)
	}
	_ = conn.Close() // It was opened only to see that it can be.
	client, err := enterBroker(ctx, m)
	if err == nil {
		client.Disconnect(50)
		return pass(brokerTopic, "check.broker.good", text.Name("url", m.URL))
	}
	return turnedAway(m, err).without(brokerTopic)
}

// unreachable says why no connection came about.
func unreachable(address string, err error) Result {
	name, _, _ := net.SplitHostPort(address)
	host, at := text.Name("host", name), text.Name("address", address)
	var dns *net.DNSError
	switch {
	case errors.As(err, &dns):
		return fail(brokerTopic, "check.broker.unknown", host)
	case strings.Contains(err.Error(), "refused"):
		return fail(brokerTopic, "check.broker.nothing", at)
	}
	return fail(brokerTopic, "check.broker.silent", at, host)
}

// enterBroker connects with the login that the daemon will use.
func enterBroker(ctx context.Context, m config.MQTT) (paho.Client, error) {
	login := mqtt.Login{User: m.User}
	var err error
	if login.TLS, err = mqtt.LoadTLS(m.CAFile, m.CertFile, m.KeyFile); err == nil && m.Password.IsSet() {
		login.Password, err = m.Password.Reveal()
	}
	if err != nil {
		return nil, err
	}
	return mqtt.Enter(ctx, m.URL, m.ClientID+"-check", login, brokerPatience)
}

// turnedAway says why a broker that can be reached does not let us in.
func turnedAway(m config.MQTT, err error) Result {
	var unknown x509.UnknownAuthorityError
	var wrongHost x509.HostnameError
	var record tls.RecordHeaderError
	says := strings.ToLower(err.Error())
	url, why := text.Name("url", m.URL), text.Cause("err", err)
	switch {
	case errors.As(err, &unknown) || strings.Contains(says, "unknown authority"):
		return fail(brokerTopic, "check.broker.authority", url)
	case errors.As(err, &wrongHost) || strings.Contains(says, "certificate is valid for"):
		return fail(brokerTopic, "check.broker.wrong_name", url, why)
	case errors.As(err, &record) || strings.Contains(says, "first record does not look like a tls"):
		return fail(brokerTopic, "check.broker.plain", url)
	case strings.Contains(says, "not authorized") || strings.Contains(says, "bad user name"):
		return fail(brokerTopic, "check.broker.login", url)
	case strings.HasPrefix(says, "secret:"):
		return fail(brokerTopic, "check.broker.secret", why)
	}
	return fail(brokerTopic, "check.broker.refuses", url, why)
}
