package recording_test

import (
	"context"
	"errors"
	"testing"
	"testing/synctest"
	"time"

	"leavend/sensor"
	"leavend/sensor/recording"
)

func TestPlayer(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		day := time.Date(2027, 1, 2, 7, 0, 0, 0, time.UTC)
		rows := []recording.Row{
			{At: day, DistanceMM: 139, TempC: 26, Note: "fed"},
			recording.Empty(day.Add(15 * time.Second)),
			{At: day.Add(30 * time.Second), DistanceMM: 137, TempC: 27, Line: 4},
		}
		start := time.Now()
		p, err := recording.NewPlayer(rows, recording.PlayerOpts{Start: start})
		if err != nil {
			t.Fatal(err)
		}
		distance, temp := p.Distance(), p.Temperature()
		ctx := context.Background()

		r, err := distance.Read(ctx)
		if err != nil || r.Value != 139 || r.Quantity != sensor.Distance || !r.At.Equal(start) {
			t.Errorf("at the start: %+v, %v", r, err)
		}
		time.Sleep(15 * time.Second)
		if r, err := temp.Read(ctx); err == nil {
			t.Errorf("an empty cell gave %+v", r)
		}
		time.Sleep(20 * time.Second)
		r, err = temp.Read(ctx)
		if err != nil || r.Value != 27 || time.Since(r.At) != 5*time.Second {
			t.Errorf("five seconds behind the last row: %+v, %v", r, err)
		}
		time.Sleep(10 * time.Second)
		if _, err := temp.Read(ctx); !errors.Is(err, recording.ErrEnded) {
			t.Errorf("behind the end: %v", err)
		}
	})
}

func TestPlayerLoopsFast(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		day := time.Date(2027, 1, 2, 7, 0, 0, 0, time.UTC)
		rows := []recording.Row{{At: day.Add(time.Hour), DistanceMM: 2}, {At: day, DistanceMM: 1}}
		p, err := recording.NewPlayer(rows, recording.PlayerOpts{Start: time.Now(), Speed: 60, Loop: true})
		if err != nil {
			t.Fatal(err)
		}
		for i := range 6 {
			r, err := p.Distance().Read(context.Background())
			if want := float64(1 + i%2); err != nil || r.Value != want || time.Since(r.At) != 0 {
				t.Errorf("minute %d: %+v, %v, want %v", i, r, err, want)
			}
			time.Sleep(time.Minute)
		}
	})
}

func TestPlayerRefuses(t *testing.T) {
	if _, err := recording.NewPlayer(nil, recording.PlayerOpts{}); err == nil {
		t.Error("no rows were accepted")
	}
	rows := []recording.Row{recording.Empty(time.Now())}
	if _, err := recording.NewPlayer(rows, recording.PlayerOpts{Speed: -1}); err == nil {
		t.Error("a negative speed was accepted")
	}
}
