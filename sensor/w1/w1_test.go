package w1

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"
)

const id = "28-0316a279d5ff" // an invented number

// slave writes the text that the kernel gives for nine bytes.
func slave(pad [9]byte) string {
	verdict := "NO"
	if crc8(pad[:8]) == pad[8] {
		verdict = "YES"
	}
	hex := fmt.Sprintf("% x", pad)
	t := int(int16(uint16(pad[1])<<8|uint16(pad[0]))) * 1000 / 16
	return fmt.Sprintf("%s : crc=%02x %s\n%s t=%d\n", hex, pad[8], verdict, hex, t)
}

// scratchpad returns a scratchpad at 12 bits with a right checksum.
func scratchpad(register uint16) (pad [9]byte) {
	pad = [9]byte{byte(register), byte(register >> 8), 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10}
	pad[8] = crc8(pad[:8])
	return pad
}

// TestDataSheetTable1 holds the decoder to the DS18B20 data sheet, table 1,
// "Temperature/Data Relationship".
func TestDataSheetTable1(t *testing.T) {
	tests := []struct {
		register uint16
		want     float64
		err      error
	}{
		{0x07D0, 125, nil},
		{0x0550, 0, ErrPowerOn}, // +85 °C is the power-on value
		{0x0191, 25.0625, nil},
		{0x00A2, 10.125, nil},
		{0x0008, 0.5, nil},
		{0x0000, 0, nil},
		{0xFFF8, -0.5, nil},
		{0xFF5E, -10.125, nil},
		{0xFE6F, -25.0625, nil},
		{0xFC90, -55, nil},
		{0x07FF, 0, ErrNoPower},
	}
	for _, tt := range tests {
		t.Run(fmt.Sprintf("%04X", tt.register), func(t *testing.T) {
			got, _, err := families["28"].scratchpad([]byte(slave(scratchpad(tt.register))))
			if got != tt.want || err != tt.err {
				t.Errorf("got %v, %v, want %v, %v", got, err, tt.want, tt.err)
			}
		})
	}
}

// TestApplicationNote27 holds the checksum to Maxim application note 27,
// example 2.
func TestApplicationNote27(t *testing.T) {
	if got := crc8([]byte{0x02, 0x1C, 0xB8, 0x01, 0x00, 0x00, 0x00}); got != 0xA2 {
		t.Errorf("got %02X, want A2", got)
	}
}

func TestScratchpad(t *testing.T) {
	nineBits := [9]byte{0x97, 0x01, 0x4B, 0x46, 0x1F, 0xFF, 0x0C, 0x10}
	nineBits[8] = crc8(nineBits[:8])
	tests := []struct {
		name, chip, text string
		want             float64
		err              error
	}{
		{"power-on value with a right checksum, widely quoted", "28",
			"50 05 4b 46 7f ff 0c 10 1c : crc=1c YES\n50 05 4b 46 7f ff 0c 10 1c t=85000\n", 0, ErrPowerOn},
		{"undefined bits at nine bits", "28", slave(nineBits), 25, nil},
		{"the kernel repeats the last good bytes", "28",
			"91 01 4b 46 7f ff 0c 10 00 : crc=70 NO\n91 01 4b 46 7f ff 0c 10 70 t=25062\n", 0, ErrChecksum},
		{"the kernel says YES to a wrong checksum", "28",
			"91 01 4b 46 7f ff 0c 10 00 : crc=00 YES\n91 01 4b 46 7f ff 0c 10 00 t=25062\n", 0, ErrChecksum},
		{"a data wire at ground: nine zeros, right checksum", "28",
			"00 00 00 00 00 00 00 00 00 : crc=00 YES\n00 00 00 00 00 00 00 00 00 t=0\n", 0, ErrShorted},
		{"a data wire pulled up", "28",
			"ff ff ff ff ff ff ff ff ff : crc=c9 NO\nff ff ff ff ff ff ff ff ff t=-62\n", 0, ErrChecksum},
		{"no text at all", "28", "", 0, errEmpty},
		{"a DS18S20 leaves the sum to the kernel", "10",
			"32 00 4b 46 ff ff 02 10 b7 : crc=b7 YES\n32 00 4b 46 ff ff 02 10 b7 t=25125\n", 25.125, nil},
		{"a DS18S20 with a shorted wire", "10",
			"00 00 00 00 00 00 00 00 00 : crc=00 YES\n00 00 00 00 00 00 00 00 00 t=0\n", 0, ErrShorted},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got, _, err := families[tt.chip].scratchpad([]byte(tt.text))
			if got != tt.want || !errors.Is(err, tt.err) {
				t.Errorf("got %v, %v, want %v, %v", got, err, tt.want, tt.err)
			}
		})
	}
}

// put writes a file of a fake /sys tree.
func put(t *testing.T, path, text string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

func TestRead(t *testing.T) {
	tests := []struct {
		name  string
		files map[string]string
		want  float64
		err   string
	}{
		{"the scratchpad", map[string]string{"w1_slave": slave(scratchpad(0x0191))}, 25.0625, ""},
		{"only the temperature file", map[string]string{"temperature": "25062\n"}, 25.062, ""},
		{"the power-on value there", map[string]string{"temperature": "85000\n"}, 0,
			"ds18b20 w1 28-0316a279d5ff: read: 85 °C is what a probe shows after its supply failed; check the supply wire"},
		{"the powerless value there", map[string]string{"temperature": "127937\n"}, 0,
			"ds18b20 w1 28-0316a279d5ff: read: 127.94 °C stands for a conversion without power; check the supply wire or the pull-up"},
		{"a value no probe can measure", map[string]string{"temperature": "1250000\n"}, 0,
			"ds18b20 w1 28-0316a279d5ff: read: 1250.000 °C lies outside -55 to 125"},
		{"no text", map[string]string{"temperature": ""}, 0,
			"ds18b20 w1 28-0316a279d5ff: read: the kernel gave no text; the conversion failed or is not over"},
		{"unplugged", nil, 0,
			"ds18b20 w1 28-0316a279d5ff: read: the kernel does not see it: unplugged, or a wire is broken"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			root := t.TempDir()
			for name, text := range tt.files {
				put(t, filepath.Join(root, id, name), text)
			}
			d, err := New(id, Opts{Root: root})
			if err != nil {
				t.Fatal(err)
			}
			r, err := d.Read(t.Context())
			if got := fmt.Sprint(err); err != nil && got != tt.err || err == nil && tt.err != "" {
				t.Errorf("error %q, want %q", got, tt.err)
			}
			if r.Value != tt.want {
				t.Errorf("value %v, want %v", r.Value, tt.want)
			}
		})
	}
}

// text is a file that reads as the function says.
type text func() (string, error)

func (f text) Read() ([]byte, error) {
	s, err := f()
	return []byte(s), err
}

// TestReadDoesNotStall reads a file that blocks, as the kernel's does during a
// conversion: the context ends the wait, and the next read takes up what the
// first one left.
func TestReadDoesNotStall(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d, err := New(id, Opts{})
		if err != nil {
			t.Fatal(err)
		}
		converted := make(chan string)
		d.pad = text(func() (string, error) { return <-converted, nil })
		ctx, cancel := context.WithTimeout(t.Context(), 10*time.Millisecond)
		defer cancel()
		if _, err := d.Read(ctx); !errors.Is(err, context.DeadlineExceeded) {
			t.Fatalf("got %v, want a deadline", err)
		}
		go func() { converted <- slave(scratchpad(0x0191)) }()
		r, err := d.Read(t.Context())
		if err != nil || r.Value != 25.0625 {
			t.Errorf("got %v, %v", r.Value, err)
		}
	})
}

// TestFixedBytes follows a probe whose constant bytes are not those of the
// data sheet, and then another one in its place.
func TestFixedBytes(t *testing.T) {
	with := func(register uint16, limit, reserved byte) string {
		pad := scratchpad(register)
		pad[2], pad[5] = limit, reserved
		pad[8] = crc8(pad[:8])
		return slave(pad)
	}
	d, err := New(id, Opts{})
	if err != nil {
		t.Fatal(err)
	}
	steps := []struct {
		name, text string
		ok         bool
	}{
		{"a copy's first answer", with(0x0191, 0x4B, 0x00), false},
		{"its second", with(0x0191, 0x4B, 0x00), true},
		{"garbage whose checksum is right by chance", with(0x0191, 0x00, 0x77), false},
		{"the copy again", with(0x0192, 0x4B, 0x00), true},
		{"a genuine one in its place", with(0x0191, 0x4B, 0xFF), false},
		{"once more", with(0x0191, 0x4B, 0xFF), true},
	}
	for _, step := range steps {
		d.pad = text(func() (string, error) { return step.text, nil })
		if _, err := d.Read(t.Context()); (err == nil) != step.ok || err != nil && !errors.Is(err, ErrUnsettled) {
			t.Errorf("%s: %v", step.name, err)
		}
	}
}

// TestNoWrongValue garbles what the probe sends, with the kernel computing the
// checksum of the garbage as it does: none of it is taken for a temperature.
func TestNoWrongValue(t *testing.T) {
	d, err := New(id, Opts{})
	if err != nil {
		t.Fatal(err)
	}
	replies := 50_000
	if s := os.Getenv("LEAVEND_BUS_REPLIES"); s != "" {
		if replies, err = strconv.Atoi(s); err != nil {
			t.Fatal(err)
		}
	}
	rng := rand.New(rand.NewPCG(1, 2))
	good := slave(scratchpad(0x0191))
	passed, refused := 0, 0
	for range replies {
		pad := scratchpad(0x0191)
		garbled := rng.IntN(4) > 0
		switch {
		case !garbled:
		case rng.IntN(2) == 0:
			for i := range pad {
				pad[i] = byte(rng.Uint32())
			}
		default:
			pad[rng.IntN(9)] ^= 1 << rng.IntN(8)
			pad[rng.IntN(9)] ^= 1 << rng.IntN(8)
		}
		d.pad = text(func() (string, error) {
			if !garbled {
				return good, nil
			}
			return slave(pad), nil
		})
		tempC, err := d.measure()
		switch {
		case err != nil:
			refused++
		case tempC != 25.0625:
			t.Fatalf("accepted %v °C from % x", tempC, pad)
		default:
			passed++
		}
	}
	t.Logf("%d answers: %d refused, %d passed, all of them right", replies, refused, passed)
}

// bus is a kernel with probes on one bus. Like the kernel, it converts when a
// probe's file is read, unless a bulk conversion has already done so.
type bus struct {
	mu       sync.Mutex
	noBulk   bool
	temps    map[string]uint16
	bulkDone time.Time
	waiting  map[string]uint16
	singles  int
	bulks    int
}

const convertTime = 750 * time.Millisecond // DS18B20 at 12 bits

// probe is one probe's w1_slave on a bus.
type probe struct {
	bus  *bus
	name string
}

func (p probe) Read() ([]byte, error) {
	b := p.bus
	b.mu.Lock()
	defer b.mu.Unlock()
	if v, ok := b.waiting[p.name]; ok {
		delete(b.waiting, p.name)
		time.Sleep(15 * time.Millisecond)
		return []byte(slave(scratchpad(v))), nil
	}
	b.singles++
	time.Sleep(convertTime)
	return []byte(slave(scratchpad(b.temps[p.name]))), nil
}

// warm sets what a probe measures.
func (b *bus) warm(name string, register uint16) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.temps[name] = register
}

func (b *bus) Trigger() error {
	if b.noBulk {
		return fs.ErrPermission
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	b.bulks++
	b.bulkDone = time.Now().Add(convertTime)
	b.waiting = map[string]uint16{}
	for name, v := range b.temps {
		b.waiting[name] = v
	}
	return nil
}

func (b *bus) Converting() (bool, error) { return time.Now().Before(b.bulkDone), nil }

// probes returns n probes on a fake bus with bulk conversion.
func probes(t *testing.T, b *bus, n int) []*Dev {
	t.Helper()
	bulk := NewBulk("", "w1_bus_master1")
	bulk.bus = b
	b.temps = map[string]uint16{}
	var devs []*Dev
	for i := range n {
		name := fmt.Sprintf("28-%012x", i)
		b.temps[name] = uint16(0x0190 + 16*i)
		d, err := New(name, Opts{Bulk: bulk})
		if err != nil {
			t.Fatal(err)
		}
		d.pad = probe{b, name}
		devs = append(devs, d)
	}
	return devs
}

func TestBulk(t *testing.T) {
	tests := []struct {
		name           string
		noBulk         bool
		bulks, singles int
		longest        time.Duration
	}{
		{"four probes convert together", false, 2, 0, time.Second},
		{"without the right to write they convert one by one", true, 0, 8, 4 * convertTime},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				b := &bus{noBulk: tt.noBulk}
				devs := probes(t, b, 4)
				for range 2 {
					start := time.Now()
					for i, d := range devs {
						r, err := d.Read(t.Context())
						if err != nil || r.Value != float64(25+i) {
							t.Errorf("probe %d: %v, %v", i, r.Value, err)
						}
					}
					if took := time.Since(start); took > tt.longest {
						t.Errorf("a round took %v, want at most %v", took, tt.longest)
					}
					time.Sleep(10 * time.Second)
				}
				if b.bulks != tt.bulks || b.singles != tt.singles {
					t.Errorf("%d bulk and %d single conversions, want %d and %d", b.bulks, b.singles, tt.bulks, tt.singles)
				}
			})
		})
	}
}

// TestBulkForgetsOldConversions: the kernel keeps the result of a bulk
// conversion until it is read, however old it grows.
func TestBulkForgetsOldConversions(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := &bus{}
		devs := probes(t, b, 2)
		if _, err := devs[0].Read(t.Context()); err != nil {
			t.Fatal(err)
		}
		time.Sleep(time.Hour)
		b.warm("28-000000000001", 0x01E0) // 30 °C by now
		r, err := devs[1].Read(t.Context())
		if err != nil || r.Value != 30 || time.Since(r.At) > time.Second {
			t.Errorf("got %v (%v old), %v, want 30", r.Value, time.Since(r.At), err)
		}
	})
}

func TestStaleCallIsThrownAway(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := &bus{}
		d := probes(t, b, 1)[0]
		d.bulk = nil
		ctx, cancel := context.WithTimeout(t.Context(), 100*time.Millisecond)
		defer cancel()
		if _, err := d.Read(ctx); err == nil {
			t.Fatal("a conversion of 750 ms was over in 100")
		}
		time.Sleep(time.Minute)
		b.warm("28-000000000000", 0x01E0)
		r, err := d.Read(t.Context())
		if err != nil || r.Value != 30 {
			t.Errorf("got %v, %v, want 30: the value of a minute ago came back", r.Value, err)
		}
	})
}

func TestFind(t *testing.T) {
	root := t.TempDir()
	for _, name := range []string{"w1_bus_master1", id, "10-000802824e58", "00-400000000000", "29-000000000001"} {
		put(t, filepath.Join(root, name, "name"), name)
	}
	got, err := Find(root)
	if diff := cmp.Diff(got, []string{"10-000802824e58", id}); err != nil || diff != "" {
		t.Errorf("%v (-got +want)\n%s", err, diff)
	}
	_, err = Find(filepath.Join(root, "nothing"))
	if err == nil || !strings.Contains(err.Error(), "enable the w1-gpio overlay") {
		t.Errorf("no bus: %v", err)
	}
}

func TestNewRefuses(t *testing.T) {
	for _, bad := range []string{"", "28", "28-../../../etc", "28-0316A279D5F", "29-0316a279d5ff", "28 0316a279d5ff", "28--316a279d5ff"} {
		if _, err := New(bad, Opts{}); err == nil {
			t.Errorf("%q was accepted", bad)
		}
	}
}

// FuzzScratchpad feeds the decoder any text: it never panics, and what it
// accepts is a temperature that the probe can measure and the text spells.
func FuzzScratchpad(f *testing.F) {
	for _, v := range []uint16{0x0191, 0x0550, 0xFC90, 0x07FF} {
		f.Add([]byte(slave(scratchpad(v))), false)
	}
	f.Add([]byte("00 00 00 00 00 00 00 00 00 : crc=00 YES\n00 t=0\n"), true)
	f.Fuzz(func(t *testing.T, text []byte, ds18s20 bool) {
		chip := families["28"]
		if ds18s20 {
			chip = families["10"]
		}
		v, _, err := chip.scratchpad(text)
		if err == nil && !(v >= -55 && v <= 125 && v != 85) {
			t.Errorf("%q gave %v", text, v)
		}
	})
}

func Example() {
	root, _ := os.MkdirTemp("", "w1")
	defer os.RemoveAll(root)
	os.MkdirAll(filepath.Join(root, id), 0o755)
	os.WriteFile(filepath.Join(root, id, "w1_slave"), []byte(
		"91 01 4b 46 7f ff 0c 10 70 : crc=70 YES\n91 01 4b 46 7f ff 0c 10 70 t=25062\n"), 0o644)

	probe, err := New(id, Opts{Root: root}) // on a board leave Root empty
	if err != nil {
		fmt.Println(err)
		return
	}
	r, err := probe.Read(context.Background())
	fmt.Println(r.Value, r.Quantity, err)
	// Output: 25.0625 temperature <nil>
}
