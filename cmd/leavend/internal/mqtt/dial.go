package mqtt

import (
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"net"
	"net/url"
	"os"
	"sync/atomic"
	"time"
)

// unackedLimit is how long bytes may wait in the kernel for the other side
// before the connection is given up. It bounds how old a command can be when
// a broken network heals.
const unackedLimit = 10 * time.Second

// LoadTLS returns the settings of a TLS connection. caFile holds the
// certificates to trust, or is empty for the system's; certFile and keyFile
// hold our own certificate, or are both empty.
func LoadTLS(caFile, certFile, keyFile string) (*tls.Config, error) {
	c := &tls.Config{MinVersion: tls.VersionTLS12}
	if caFile != "" {
		pem, err := os.ReadFile(caFile)
		if err != nil {
			return nil, fmt.Errorf("mqtt: ca file: %w", err)
		}
		c.RootCAs = x509.NewCertPool()
		if !c.RootCAs.AppendCertsFromPEM(pem) {
			return nil, fmt.Errorf("mqtt: ca file %s: holds no PEM certificate", caFile)
		}
	}
	if (certFile == "") != (keyFile == "") {
		return nil, errors.New("mqtt: a client certificate needs both its certificate file and its key file")
	}
	if certFile != "" {
		pair, err := tls.LoadX509KeyPair(certFile, keyFile)
		if err != nil {
			return nil, fmt.Errorf("mqtt: client certificate: %w", err)
		}
		c.Certificates = []tls.Certificate{pair}
	}
	return c, nil
}

// resetConn is the network connection below one library client. Unless it ends in
// order, closing it resets it, so that nothing unsent is sent later.
type resetConn struct {
	net.Conn
	tcp     *net.TCPConn
	orderly atomic.Bool
}

func dial(u *url.URL, conf *tls.Config, limit time.Duration) (*resetConn, error) {
	raw, err := net.DialTimeout("tcp", u.Host, limit)
	if err != nil {
		return nil, err
	}
	tcp := raw.(*net.TCPConn)
	limitUnacked(tcp, unackedLimit)
	w := &resetConn{Conn: tcp, tcp: tcp}
	if u.Scheme != "mqtts" {
		return w, nil
	}
	conf = conf.Clone()
	if conf == nil {
		conf = &tls.Config{MinVersion: tls.VersionTLS12}
	}
	if conf.ServerName == "" {
		conf.ServerName = u.Hostname()
	}
	secure := tls.Client(tcp, conf)
	tcp.SetDeadline(time.Now().Add(limit))
	if err := secure.Handshake(); err != nil {
		w.Close()
		return nil, err
	}
	tcp.SetDeadline(time.Time{})
	w.Conn = secure
	return w, nil
}

// Close ends the connection; without an orderly end it throws away what the
// kernel still holds.
func (w *resetConn) Close() error {
	if !w.orderly.Load() {
		w.tcp.SetLinger(0)
		return w.tcp.Close()
	}
	return w.Conn.Close()
}
