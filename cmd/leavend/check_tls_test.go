package main

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"errors"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/check"
	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/mqtt"
)

// selfSigned makes a certificate for one address and writes it down as its own
// authority.
func selfSigned(t *testing.T, ip net.IP) (pair tls.Certificate, caFile string) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	tmpl := &x509.Certificate{SerialNumber: big.NewInt(1), NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour),
		IPAddresses: []net.IP{ip}, IsCA: true, BasicConstraintsValid: true}
	der, err := x509.CreateCertificate(rand.Reader, tmpl, tmpl, &key.PublicKey, key)
	if err != nil {
		t.Fatal(err)
	}
	caFile = filepath.Join(t.TempDir(), "ca.pem")
	if err := os.WriteFile(caFile, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}), 0o600); err != nil {
		t.Fatal(err)
	}
	return tls.Certificate{Certificate: [][]byte{der}, PrivateKey: key}, caFile
}

// A real broker with TLS, and each way in which its certificate can be wrong.
func TestCheckBrokerTLS(t *testing.T) {
	ctx, stop := context.WithCancel(context.Background())
	var running []chan error
	serve := func(pair tls.Certificate) string {
		address := freePort(t)
		b, err := mqtt.NewBroker(mqtt.BrokerOpts{Listen: "off", ListenTLS: address,
			TLS: &tls.Config{Certificates: []tls.Certificate{pair}}, Users: []mqtt.User{{Name: "baker", Password: "crumb"}}})
		if err != nil {
			t.Fatal(err)
		}
		done := make(chan error, 1)
		go func() { done <- b.Run(ctx) }()
		running = append(running, done)
		return address
	}
	defer func() {
		stop()
		for _, done := range running {
			if err := <-done; err != nil && !errors.Is(err, context.Canceled) {
				t.Error(err)
			}
		}
	}()
	good, goodCA := selfSigned(t, net.IPv4(127, 0, 0, 1))
	other, otherCA := selfSigned(t, net.IPv4(192, 0, 2, 7))
	goodAt, otherAt := serve(good), serve(other)
	for _, tt := range []struct {
		name, url, ca string
		level         check.Level
		part          string
	}{
		{"trusted", "mqtts://" + goodAt, goodCA, check.Pass, "lets us in"},
		{"signed by a stranger", "mqtts://" + goodAt, otherCA, check.Fail, "mqtt.ca_file"},
		{"signed for another name", "mqtts://" + otherAt, otherCA, check.Fail, "for another name"},
		{"no such authority", "mqtts://" + goodAt, filepath.Join(t.TempDir(), "none.pem"), check.Fail, "ca file"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got := checkBroker(ctx, config.MQTT{On: true, URL: tt.url, User: "baker", ClientID: "leavend", CAFile: tt.ca, Password: config.PlainSecret("crumb")}, check.ThisBoard())
			if got.Level != tt.level || !strings.Contains(got.Says+got.Do, tt.part) {
				t.Errorf("got %+v, want %s with %q", got, tt.level, tt.part)
			}
		})
	}
}
