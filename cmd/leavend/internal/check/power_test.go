package check

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"encoding/pem"
	"errors"
	"math/big"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

func TestPower(t *testing.T) {
	const throttled = "/sys/devices/platform/soc/soc:firmware/get_throttled"
	for _, tt := range []struct {
		name  string
		files map[string]string
		level Level
		part  string
	}{
		{"another board", nil, "", ""},
		{"enough", map[string]string{throttled: "0\n"}, Pass, "has been high enough"},
		{"too little now", map[string]string{throttled: "50005\n"}, Warn, "is too low"},
		{"too little before", map[string]string{throttled: "50000\n"}, Warn, "has been too low"},
		{"too hot, but enough", map[string]string{throttled: "80008\n"}, Pass, "has been high enough"},
		{"alarm of the kernel", map[string]string{"/sys/class/hwmon/hwmon1/name": "rpi_volt\n", "/sys/class/hwmon/hwmon1/in0_lcrit_alarm": "1\n"}, Warn, "is too low"},
		{"nonsense", map[string]string{throttled: "x"}, "", ""},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got, ok := fake(t, tt.files).Power()
			if got.Level != tt.level || ok != (tt.level != "") || !strings.Contains(english(got.Says), tt.part) {
				t.Errorf("got %+v, %v; want %s with %q", got, ok, tt.level, tt.part)
			}
		})
	}
}

func TestPins(t *testing.T) {
	pins := []Pin{{Number: 2, User: written("sensor[ping].echo")}, {Number: 4, User: written("mat.line")}, {Number: 17, User: written("sensor[eye].xshut")}, {Number: 22, User: written("sensor[x].xshut")}}
	for _, tt := range []struct {
		name, config string
		i2c          bool
		want         []string
	}{
		{"nothing taken", "", false, nil},
		{"1-Wire where it is by default", "dtoverlay=w1-gpio\n", false, []string{"mat.line is GPIO 4, which is the data wire of the 1-Wire bus"}},
		{"1-Wire elsewhere", "dtoverlay=w1-gpio,gpiopin=17,pullup=on\n", true, []string{"sensor[ping].echo is GPIO 2, which is SDA", "sensor[eye].xshut is GPIO 17"}},
		{"1-Wire not enabled", "#dtoverlay=w1-gpio\n", false, nil},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got := fake(t, map[string]string{"/proc/device-tree/model": pi, "/boot/firmware/config.txt": tt.config}).Pins(pins, tt.i2c)
			if len(got) != len(tt.want) {
				t.Fatalf("got %v, want %v", got, tt.want)
			}
			for i, r := range got {
				if r.Level != Fail || !strings.HasPrefix(english(r.Says), tt.want[i]) {
					t.Errorf("got %+v, want %q", r, tt.want[i])
				}
			}
		})
	}
	if got := fake(t, nil).Pins(pins, true); got != nil {
		t.Errorf("another board has other lines, but got %v", got)
	}
}

func TestCertificate(t *testing.T) {
	dir := t.TempDir()
	cert, key := filepath.Join(dir, "cert.pem"), filepath.Join(dir, "key.pem")
	start := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	writePair(t, cert, key, start, start.AddDate(1, 0, 0))
	b := fake(t, nil)
	for now, want := range map[time.Time]Level{
		start.AddDate(0, 6, 0): Pass, start.AddDate(0, 0, 360): Warn, start.AddDate(2, 0, 0): Fail, start.AddDate(-1, 0, 0): Fail,
	} {
		b.Now = now
		if got := b.Certificate("page", cert, key); got.Level != want {
			t.Errorf("at %s got %+v, want %s", now, got, want)
		}
	}
	if got := b.Certificate("page", key, cert); got.Level != Fail || got.Do.IsZero() {
		t.Errorf("files the wrong way round: %+v", got)
	}
}

func writePair(t *testing.T, cert, key string, from, to time.Time) {
	t.Helper()
	k, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	tmpl := &x509.Certificate{SerialNumber: big.NewInt(1), NotBefore: from, NotAfter: to}
	der, err := x509.CreateCertificate(rand.Reader, tmpl, tmpl, &k.PublicKey, k)
	if err != nil {
		t.Fatal(err)
	}
	secret, err := x509.MarshalPKCS8PrivateKey(k)
	if err != nil {
		t.Fatal(err)
	}
	err = errors.Join(
		os.WriteFile(cert, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}), 0o644),
		os.WriteFile(key, pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: secret}), 0o600))
	if err != nil {
		t.Fatal(err)
	}
}
