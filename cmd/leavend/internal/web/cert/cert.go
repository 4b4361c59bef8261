// Package cert serves a page by TLS: with a certificate of the owner's, or with one
// that it makes and keeps.
package cert

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"slices"
	"time"

	"leavend/cmd/leavend/internal/atomicfile"
)

// certLife is as long as phones accept for a certificate they are told to
// trust by hand (825 days on one large family of phones, from memory).
const certLife = 820 * 24 * time.Hour

// Opts say which certificate a page has.
type Opts struct {
	CertFile, KeyFile string          // PEM files of the owner's; both, or none
	Dir               string          // where the self-made one is kept; "" keeps it in memory
	Hosts             map[string]bool // the names that the self-made one is for
	Now               func() time.Time
	Log               *slog.Logger
}

// Config returns how TLS is spoken.
func (o Opts) Config() (*tls.Config, error) {
	var cert tls.Certificate
	var err error
	if o.CertFile != "" {
		cert, err = tls.LoadX509KeyPair(o.CertFile, o.KeyFile)
		if err != nil {
			return nil, fmt.Errorf("web: load certificate: %w", err)
		}
	} else if cert, err = o.selfMade(); err != nil {
		return nil, err
	}
	return &tls.Config{Certificates: []tls.Certificate{cert}, MinVersion: tls.VersionTLS12, NextProtos: []string{"h2", "http/1.1"}}, nil
}

// selfMade loads the certificate kept in the data folder, or makes one where
// there is none, or it is about to end, or it lacks one of this machine's
// names.
func (o Opts) selfMade() (tls.Certificate, error) {
	if o.Dir == "" {
		certPEM, keyPEM, err := o.makeCert()
		if err != nil {
			return tls.Certificate{}, err
		}
		return tls.X509KeyPair(certPEM, keyPEM)
	}
	file := filepath.Join(o.Dir, "page-tls.pem") // key and certificate together: they are replaced as one
	both, err := os.ReadFile(file)
	if err == nil {
		if cert, err := tls.X509KeyPair(both, both); err == nil && o.stillGood(cert) {
			return cert, nil
		}
	} else if !errors.Is(err, fs.ErrNotExist) {
		return tls.Certificate{}, fmt.Errorf("web: read certificate: %w", err)
	}
	certPEM, keyPEM, err := o.makeCert()
	if err != nil {
		return tls.Certificate{}, err
	}
	both = slices.Concat(certPEM, keyPEM)
	if err := atomicfile.Write(file, both, 0o600); err != nil {
		return tls.Certificate{}, fmt.Errorf("web: write %s: %w", file, err)
	}
	o.Log.Info("web: made a certificate; a browser asks once whether to trust it")
	return tls.X509KeyPair(both, both)
}

func (o Opts) stillGood(cert tls.Certificate) bool {
	leaf := cert.Leaf
	if leaf == nil || o.Now().After(leaf.NotAfter.Add(-30*24*time.Hour)) {
		return false
	}
	for name := range o.Hosts {
		if leaf.VerifyHostname(name) != nil {
			return false
		}
	}
	return true
}

func (o Opts) makeCert() (certPEM, keyPEM []byte, err error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, nil, fmt.Errorf("web: make key: %w", err)
	}
	serial, err := rand.Int(rand.Reader, new(big.Int).Lsh(big.NewInt(1), 120))
	if err != nil {
		return nil, nil, fmt.Errorf("web: make serial number: %w", err)
	}
	now := o.Now()
	form := &x509.Certificate{
		SerialNumber: serial,
		Subject:      pkix.Name{CommonName: "leavend"},
		// A board without a clock chip may start days behind.
		NotBefore:             now.Add(-7 * 24 * time.Hour),
		NotAfter:              now.Add(certLife),
		KeyUsage:              x509.KeyUsageDigitalSignature,
		ExtKeyUsage:           []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		BasicConstraintsValid: true,
		IPAddresses:           addresses(),
	}
	for name := range o.Hosts {
		if ip := net.ParseIP(name); ip != nil {
			form.IPAddresses = append(form.IPAddresses, ip)
			continue
		}
		form.DNSNames = append(form.DNSNames, name)
	}
	slices.Sort(form.DNSNames)
	der, err := x509.CreateCertificate(rand.Reader, form, form, key.Public(), key)
	if err != nil {
		return nil, nil, fmt.Errorf("web: make certificate: %w", err)
	}
	keyDER, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return nil, nil, fmt.Errorf("web: encode key: %w", err)
	}
	return pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}),
		pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: keyDER}), nil
}

// addresses are the machine's own, loopback first. One that cannot be told
// is left out: the names still work.
func addresses() []net.IP {
	ips := []net.IP{net.IPv4(127, 0, 0, 1), net.IPv6loopback}
	all, err := net.InterfaceAddrs()
	if err != nil {
		return ips
	}
	for _, a := range all {
		if n, ok := a.(*net.IPNet); ok && !n.IP.IsLoopback() {
			ips = append(ips, n.IP)
		}
	}
	return ips
}
