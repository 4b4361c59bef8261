package store

import (
	"math/rand/v2"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

func TestBlocksComeBack(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for range 200 {
		var want []sample
		at := int64(1_700_000_000_000)
		for range 1 + rng.IntN(50) {
			want = append(want, sample{channel: 1 + rng.Int64N(80), t: at, v: rng.Int64N(2e11) - 1e11})
			at += rng.Int64N(maxBlockMS)
		}
		var got []sample
		err := decodeBlock(want[0].t, encodeBlock(want[0].t, want), func(s sample) bool { got = append(got, s); return true })
		if diff := cmp.Diff(want, got, cmp.AllowUnexported(sample{})); diff != "" || err != nil {
			t.Fatal(err, "(-want +got):", diff)
		}
	}
}

func TestPagesComeBack(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	allow := cmp.AllowUnexported(page{}, bucket{}, stat{})
	for level, l := range levels {
		want := &page{start: floor(1_700_000_000_000, l.span)}
		for range 500 { // in any order of time
			v := rng.Int64N(2e6) - 1e6
			want.add(want.start+rng.Int64N(l.span), l.width, stat{1 + rng.Int64N(40), 1, v, v, v})
		}
		got, err := readPage(want.start, l, want.encode(l.width))
		if diff := cmp.Diff(want, got, allow); diff != "" || err != nil {
			t.Fatal(level, err, "(-want +got):", diff)
		}
	}
}

func TestFloorBelowZero(t *testing.T) {
	for _, tt := range []struct{ t, want int64 }{{0, 0}, {59, 0}, {60, 60}, {-1, -60}, {-60, -60}, {-61, -120}} {
		if got := floor(tt.t, 60); got != tt.want {
			t.Errorf("floor(%d, 60) = %d, want %d", tt.t, got, tt.want)
		}
	}
}

// FuzzBlock feeds any bytes to the decoder, which must end and stay in range.
func FuzzBlock(f *testing.F) {
	f.Add(encodeBlock(5, []sample{{1, 5, 100}, {2, 6, -7}, {1, 9000, 101}}))
	f.Add([]byte{0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0x7f, 1, 1})
	f.Fuzz(func(t *testing.T, data []byte) {
		n, last := 0, int64(0)
		decodeBlock(0, data, func(s sample) bool {
			if s.t < last || s.channel < 0 || s.channel > maxChannels {
				t.Fatalf("sample %+v after t %d", s, last)
			}
			n, last = n+1, s.t
			return true
		})
		if n > len(data)/3 {
			t.Fatalf("%d samples from %d bytes", n, len(data))
		}
	})
}

// FuzzPage feeds any bytes to the decoder of rollups.
func FuzzPage(f *testing.F) {
	p := &page{}
	p.add(0, minuteMS, stat{1, 2, -5, 7, 2})
	p.add(120_000, minuteMS, stat{40, 1, 9, 9, 9})
	f.Add(p.encode(minuteMS))
	f.Add([]byte{1, 0xff, 0xff, 0x3f, 1})
	f.Fuzz(func(t *testing.T, data []byte) {
		for _, l := range levels {
			n := 0
			decodePage(0, l, data, func(_ int64, stats []stat) { n += len(stats) })
			if n > len(data) {
				t.Fatalf("%d stats from %d bytes", n, len(data))
			}
		}
	})
}

// TestVesselLeftEmpty checks that rollups of a vessel without readings are
// written, and that its readings are thinned, while the daemon runs on.
func TestVesselLeftEmpty(t *testing.T) {
	s, w := newTestStore(t)
	fill(s, w, "Pilot", 400)
	flush(t, s)
	for range 10 {
		w.pass(10 * 24 * time.Hour)
		fill(s, w, "Bramble", 10)
		flush(t, s)
	}
	for key, p := range s.Readings.open {
		if key.vessel == s.Readings.names[name{vessel: "Pilot"}] {
			t.Errorf("level %d still has the page of %v open", key.level, time.UnixMilli(p.start))
		}
	}
	want, err := s.Readings.Window(t.Context(), "Pilot", epoch, epoch.Add(2*time.Hour), 100)
	if err != nil || len(want.Points) < 30 {
		t.Fatalf("%d points, %v", len(want.Points), err)
	}
	if err := s.Readings.Thin(t.Context()); err != nil {
		t.Fatal(err)
	}
	if got := readings(t, s, "Pilot", epoch); got != nil {
		t.Errorf("%d readings at full rate are left after 100 days", len(got))
	}
	got, err := s.Readings.Window(t.Context(), "Pilot", epoch, epoch.Add(2*time.Hour), 100)
	if diff := cmp.Diff(want.Points, got.Points); diff != "" || err != nil {
		t.Error("the window changed with thinning:", err, diff)
	}
}
