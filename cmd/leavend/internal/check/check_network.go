package check

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"net"
	"net/url"
	"os"
	"strings"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/mqtt"
	"leavend/cmd/leavend/internal/web"

	paho "github.com/eclipse/paho.mqtt.golang"
	exporter "github.com/prometheus/exporter-toolkit/web"
)

// brokerPatience is how long a broker may take to let us in.
const brokerPatience = 5 * time.Second

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
			out = append(out, Result{Topic: "metrics", Level: Fail, Says: fmt.Sprintf("%s cannot be used: %v.", file, err),
				Do: "see that it is there, and try it: promtool check web-config " + file, Without: "the metrics"})
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
	if err := web.CheckAccess(dir); err != nil {
		return []Result{{Topic: "page", Level: Fail, Says: fmt.Sprintf("sign-in to the page does not work: %v.", err), Without: "signing in to the page",
			Do: "run the check as the service's user, sudo -u leavend leavend check; a file that is damaged is set aside by: sudo leavend password forget"}}
	}
	return nil
}

// CheckBroker signs in to another broker, and out again.
func CheckBroker(ctx context.Context, m config.MQTT, b Board) Result {
	r := Result{Topic: "mqtt", Level: Fail, Without: "the MQTT broker"}
	u, address, err := brokerAddress(m)
	if err != nil {
		r.Says = err.Error() + "."
		return r // the configuration has been checked, so this does not come
	}
	if _, err := mqtt.OptionalTLS(m.CAFile, m.CertFile, m.KeyFile); err != nil {
		r.Says, r.Do = err.Error()+".", "see that mqtt.ca_file, mqtt.cert_file and mqtt.key_file are PEM files that leavend may read"
		return r
	}
	conn, err := b.Dial(address)
	if err != nil {
		r.Says, r.Do = unreachable(address, err)
		return r
	}
	_ = conn.Close() // It was opened only to see that it can be.
	client, err := enterBroker(ctx, m, u, address)
	if err == nil {
		client.Disconnect(50)
		r.Level, r.Without, r.Says = Pass, "", m.URL+" lets us in."
		return r
	}
	r.Says, r.Do = turnedAway(m, err)
	return r
}

// unreachable says why no connection came about.
func unreachable(address string, err error) (says, do string) {
	host, _, _ := net.SplitHostPort(address)
	var dns *net.DNSError
	switch {
	case errors.As(err, &dns):
		return fmt.Sprintf("the name %s is not known in this network.", host), "check mqtt.url, or write the broker's address in numbers"
	case strings.Contains(err.Error(), "refused"):
		return fmt.Sprintf("nothing listens at %s.", address), "start the broker there: sudo systemctl start mosquitto; by default it listens on its own board only, so add a listener to its configuration"
	}
	return fmt.Sprintf("%s does not answer.", address), "check that it is on and in the same network: ping " + host
}

// enterBroker connects with the login that the daemon will use.
func enterBroker(ctx context.Context, m config.MQTT, u *url.URL, address string) (paho.Client, error) {
	// An id of its own: with the daemon's, a check would throw it out.
	o := paho.NewClientOptions().SetClientID(fmt.Sprintf("%s-check-%d", m.ClientID, os.Getpid())).
		SetConnectTimeout(brokerPatience).SetAutoReconnect(false).SetConnectRetry(false)
	scheme := "tcp"
	if u.Scheme == "mqtts" {
		scheme = "ssl"
		conf, err := mqtt.LoadTLS(m.CAFile, m.CertFile, m.KeyFile)
		if err != nil {
			return nil, err
		}
		conf.ServerName = u.Hostname()
		o.SetTLSConfig(conf)
	}
	o.AddBroker(scheme + "://" + address)
	if m.Password.IsSet() {
		password, err := m.Password.Reveal()
		if err != nil {
			return nil, err
		}
		o.SetUsername(m.User).SetPassword(password)
	}
	client := paho.NewClient(o)
	if err := await(ctx, client.Connect()); err != nil {
		client.Disconnect(0)
		return nil, err
	}
	return client, nil
}

// await waits for an act of the MQTT client.
func await(ctx context.Context, t paho.Token) error {
	select {
	case <-t.Done():
		return t.Error()
	case <-ctx.Done():
		return ctx.Err()
	case <-time.After(2 * brokerPatience):
		return errors.New("the broker does not answer")
	}
}

// brokerAddress returns the URL of another broker and its host with port.
func brokerAddress(m config.MQTT) (u *url.URL, address string, err error) {
	if u, err = url.Parse(m.URL); err != nil {
		return nil, "", errors.New("mqtt.url is no address")
	}
	if u.Port() != "" {
		return u, u.Host, nil
	}
	return u, net.JoinHostPort(u.Hostname(), map[string]string{"mqtt": "1883", "mqtts": "8883"}[u.Scheme]), nil
}

// turnedAway says why a broker that can be reached does not let us in.
func turnedAway(m config.MQTT, err error) (says, do string) {
	var unknown x509.UnknownAuthorityError
	var wrongHost x509.HostnameError
	var record tls.RecordHeaderError
	text := strings.ToLower(err.Error())
	switch {
	case errors.As(err, &unknown) || strings.Contains(text, "unknown authority"):
		return m.URL + " shows a certificate that no trusted authority has signed.", "set mqtt.ca_file to the certificate of whoever signed it"
	case errors.As(err, &wrongHost) || strings.Contains(text, "certificate is valid for"):
		return fmt.Sprintf("%s shows a certificate for another name: %v.", m.URL, err), "write mqtt.url with the name in the certificate"
	case errors.As(err, &record) || strings.Contains(text, "first record does not look like a tls"):
		return m.URL + " does not speak TLS on that port.", "use mqtt:// in mqtt.url, or the broker's TLS port"
	case strings.Contains(text, "not authorized") || strings.Contains(text, "bad user name"):
		return m.URL + " refuses the user or the password.", "check mqtt.user and mqtt.password_file against the broker's list: mosquitto_passwd"
	case strings.HasPrefix(text, "secret:"):
		return err.Error() + ".", "write the password into it"
	}
	return fmt.Sprintf("%s does not let us in: %v.", m.URL, err), "look at the broker's log: journalctl -u mosquitto"
}
