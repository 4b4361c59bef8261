package leavendtest

import (
	"bytes"
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"encoding/json"
	"encoding/pem"
	"fmt"
	"io"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/replay"
	"leavend/cmd/leavend/internal/store"
	"leavend/peak"
	"math/big"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// SelfSigned makes a certificate for one address and writes it down as its own
// authority.
func SelfSigned(t *testing.T, ip net.IP) (pair tls.Certificate, caFile string) {
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

// FreePort returns an address on which nobody listens.
func FreePort(t testing.TB) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}

// NoNetwork is what every config of these tests ends with: a goroutine that
// waits for the network would hold up virtual time.
const NoNetwork = "[mqtt]\non = false\n[web]\non = false\n[metrics]\non = false\n"

// JarConfig watches one jar of the demo kitchen, on its mat.
func JarConfig(dir string) string {
	return fmt.Sprintf(`data_dir = %q
[[sensor]]
name = "eye"
chip = "kitchen"
[[vessel]]
name = "Bramble"
distance = "eye"
temperature = "eye"
floor_mm = 215
[mat]
output = "kitchen"
vessel = "Bramble"
setpoint_c = 26
`, dir) + NoNetwork
}

// ThursdayEvening is 18:04 in Oslo; the loaf is wanted on Saturday at 07:30.
var ThursdayEvening = time.Date(2026, 11, 26, 17, 4, 0, 0, time.UTC)

// PlanConfig is an invented kitchen; more is put behind it.
const PlanConfig = `timezone = "Europe/Oslo"
[[sensor]]
name = "eye"
chip = "kitchen"
[[vessel]]
name = "Bramble"
distance = "eye"
temperature = "eye"
`

const PlanMat = "[mat]\noutput = \"kitchen\"\n"

// BramblesPast fills a store with an invented starter that is fed 1:5:5 every
// morning and tops nine hours later at 22 °C, up to the last feed.
func BramblesPast(t *testing.T, path string, last time.Time, feeds int, topped bool) {
	t.Helper()
	ctx := context.Background()
	s, _, err := store.Open(ctx, path, store.Opts{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	must := func(_ any, err error) {
		if err != nil {
			t.Fatal(err)
		}
	}
	for i := range feeds {
		at := last.AddDate(0, 0, i-feeds+1)
		must(s.AddFeed(ctx, store.Feed{Vessel: "bramble", At: at, KeptG: 20, WaterG: 100, Flours: []store.Flour{{Kind: "wheat", Grams: 100}}}))
		for m := range 60 {
			s.Add(store.Reading{Vessel: "bramble", Channel: store.Warmth, At: at.Add(time.Duration(m) * 10 * time.Minute), Value: 22})
		}
		if i == feeds-1 && !topped {
			break
		}
		top := at.Add(9*time.Hour + time.Duration(i%3-1)*10*time.Minute)
		curve, err := json.Marshal(peak.Feed{At: at, PeakAt: top, WarmHours: 7, MeanTempC: 22, RiseMM: 60})
		must(nil, err)
		must(s.AddCurve(ctx, store.Curve{Vessel: "bramble", At: at, Data: curve}))
		must(s.AddEvent(ctx, store.Event{Vessel: "bramble", At: top, Kind: string(event.Peak), Data: []byte("{}")}))
	}
}

// RealPeer finds a program that the test needs. Where it is missing the test
// skips, unless real peers are demanded.
func RealPeer(t *testing.T, name, pkg string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		path, err = exec.LookPath("/usr/sbin/" + name)
	}
	switch {
	case err == nil:
		return path
	case os.Getenv("LEAVEND_REAL_PEERS") != "":
		t.Fatalf("%s is not installed; apt-get install %s", name, pkg)
	}
	t.Skipf("%s is not installed; apt-get install %s runs this test", name, pkg)
	return ""
}

// Patience is how long these tests wait for something to happen. It is
// generous: a slow machine is no fault.
const Patience = 90 * time.Second

// Eventually waits until something is so.
func Eventually(t *testing.T, what string, is func() bool) {
	t.Helper()
	for end := time.Now().Add(Patience); time.Now().Before(end); time.Sleep(50 * time.Millisecond) {
		if is() {
			return
		}
	}
	t.Fatalf("after %v still not so: %s", Patience, what)
}

const Curves = "../../../../testdata/curves/"

func Unpacked(t *testing.T, name string) []string {
	t.Helper()
	f, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	in, closer, err := replay.Unpack(f)
	if err != nil {
		t.Fatal(err)
	}
	defer closer()
	raw, err := io.ReadAll(in)
	if err != nil {
		t.Fatal(err)
	}
	return strings.Split(strings.TrimSuffix(string(raw), "\n"), "\n")
}

// Start starts a process that ends with the test. What it wrote is shown when
// the test fails.
func Start(t *testing.T, cmd *exec.Cmd) *exec.Cmd {
	t.Helper()
	var said bytes.Buffer
	cmd.Stdout, cmd.Stderr = &said, &said
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		_ = cmd.Process.Kill() // it may have ended already
		_ = cmd.Wait()
		if t.Failed() {
			t.Logf("%s:\n%s", filepath.Base(cmd.Path), said.String())
		}
	})
	return cmd
}

const MatConfig = `
[[sensor]]
name = "probe"
chip = "ds18b20"
[[sensor]]
name = "eye"
chip = "vl53l1x"
[[vessel]]
name = "Bramble"
distance = "eye"
temperature = "probe"
[mat]
output = "gpio"
line = 17
`

// PlanBowl is a bowl beside the jar.
const PlanBowl = `[[sensor]]
name = "nose"
chip = "kitchen"
[[vessel]]
name = "Trough"
kind = "bowl"
distance = "nose"
temperature = "nose"
`

// DoughsPast fills a store with an invented baker's doughs in a bowl, one a week
// up to a moment, each 1.75 times its height after so long at 24 °C. Every other
// one was mixed by a plan.
func DoughsPast(t *testing.T, path, bowl string, last time.Time, doughs int, after time.Duration) {
	t.Helper()
	ctx := context.Background()
	s, _, err := store.Open(ctx, path, store.Opts{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	must := func(_ any, err error) {
		if err != nil {
			t.Fatal(err)
		}
	}
	for i := range doughs {
		at := last.AddDate(0, 0, 7*(i-doughs+1))
		must(s.AddFeed(ctx, store.Feed{Vessel: bowl, At: at, KeptG: 100, WaterG: 330, Flours: []store.Flour{{Kind: "wheat", Grams: 500}}}))
		for m := range 60 {
			s.Add(store.Reading{Vessel: bowl, Channel: store.Warmth, At: at.Add(time.Duration(m) * 10 * time.Minute), Value: 24})
		}
		ratio := 1.75
		came, err := json.Marshal(monitor.EventData{PeakAt: at.Add(after), RiseRatio: &ratio})
		must(nil, err)
		must(s.AddEvent(ctx, store.Event{Vessel: bowl, At: at.Add(after + 3*time.Minute), Kind: string(event.Target), Data: came}))
	}
}
