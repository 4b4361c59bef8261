package blocking

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"testing"
	"testing/synctest"
	"time"

	"leavend/sensor"
)

// slow measures for the given time and counts.
func slow(took time.Duration, n *int) func() (sensor.Reading, error) {
	return func() (sensor.Reading, error) {
		at := time.Now()
		time.Sleep(took)
		*n++
		return sensor.Reading{At: at, Value: float64(*n)}, nil
	}
}

func TestDo(t *testing.T) {
	tests := []struct {
		name    string
		wait    time.Duration // between giving up and asking again
		want    float64
		longest time.Duration
	}{
		{"asked again while it runs, its result is taken", 300 * time.Millisecond, 1, 400 * time.Millisecond},
		{"asked again soon after, its result is taken", 2 * time.Second, 1, 0},
		{"asked a minute later, it measures again", time.Minute, 2, 750 * time.Millisecond},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				n := 0
				f := New(slow(750*time.Millisecond, &n))
				ctx, cancel := context.WithTimeout(t.Context(), 50*time.Millisecond)
				defer cancel()
				if _, err := f.Do(ctx); !errors.Is(err, context.DeadlineExceeded) {
					t.Fatalf("a call of 750 ms was over in 50: %v", err)
				}
				time.Sleep(tt.wait)
				start := time.Now()
				r, err := f.Do(t.Context())
				if err != nil || r.Value != tt.want || time.Since(start) > tt.longest {
					t.Errorf("got %v, %v after %v, want %v within %v", r.Value, err, time.Since(start), tt.want, tt.longest)
				}
			})
		})
	}
}

func TestContextOverBeforehand(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	f := New(func() (sensor.Reading, error) { t.Error("called"); return sensor.Reading{}, nil })
	if _, err := f.Do(ctx); !errors.Is(err, context.Canceled) {
		t.Errorf("got %v", err)
	}
}

func TestNoAllocation(t *testing.T) {
	path := filepath.Join(t.TempDir(), "temperature")
	if err := os.WriteFile(path, []byte("25062\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	file := NewFile(path)
	f := New(func() (sensor.Reading, error) {
		text, err := file.Read()
		return sensor.Reading{At: time.Now(), Value: float64(len(text))}, err
	})
	ctx := t.Context()
	if n := testing.AllocsPerRun(100, func() {
		if r, err := f.Do(ctx); err != nil || r.Value != 6 {
			t.Fatal(r, err)
		}
	}); n >= 1 {
		t.Errorf("%v allocations a read", n)
	}
}

func TestFileComesAndGoes(t *testing.T) {
	path := filepath.Join(t.TempDir(), "temperature")
	f := NewFile(path)
	if _, err := f.Read(); !Gone(err) {
		t.Errorf("before it is there: %v", err)
	}
	for _, text := range []string{"1", "22", "3"} {
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		if got, err := f.Read(); err != nil || string(got) != text {
			t.Errorf("got %q, %v, want %q", got, err, text)
		}
	}
	if err := f.Close(); err != nil {
		t.Error(err)
	}
	if got, err := f.Read(); err != nil || string(got) != "3" {
		t.Errorf("after closing: %q, %v", got, err)
	}
}
