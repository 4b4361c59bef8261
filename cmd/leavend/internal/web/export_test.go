package web

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"strings"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/failure"
)

// The exports of the fake house are a few rows each.

func (h *fakeHouse) Known(vessel string) error {
	for _, v := range fakeVessels {
		if v.id == vessel {
			return nil
		}
	}
	return failure.ErrUnknown
}

func (h *fakeHouse) Recording(_ context.Context, w io.Writer, vessel string, from, to time.Time) error {
	_, err := fmt.Fprintf(w, "time,distance_mm,temperature_c,note\n%s,141.5,25.3,\n", fakeStart.Format(time.RFC3339))
	return err
}

func (h *fakeHouse) Table(_ context.Context, w io.Writer, vessel string, from, to time.Time) error {
	if vessel == "dough" {
		return errors.New("the disk is gone") // before anything is written
	}
	if _, err := fmt.Fprintf(w, "time,vessel,quantity,value,mean_of\n%s,%s,temperature_c,25.3,\n", fakeStart.Format(time.RFC3339), vessel); err != nil {
		return err
	}
	if vessel == "pilot" {
		return errors.New("the disk is gone") // in the middle
	}
	return nil
}

func (h *fakeHouse) Lines(_ context.Context, w io.Writer, vessel string, from, to time.Time) error {
	_, err := fmt.Fprintf(w, "leavend,vessel=bramble temperature_c=25.3 %d\n", fakeStart.UnixNano())
	return err
}

func (h *fakeHouse) JournalFile(_ context.Context, w io.Writer, vessel string, from, to time.Time) error {
	_, err := io.WriteString(w, `{"format":"leavend journal 1","exported":"2026-03-14T11:42:10Z","feeds":[],"events":[],"forecasts":[],"bakes":[],"discards":[],"curves":[],"starters":[],"revisions":[],"settings":[]}`)
	return err
}

// TestExports asks for each kind, and for what there is not.
func TestExports(t *testing.T) {
	st := raise(t, "", Opts{})
	get := func(path string) (int, http.Header, string, error) {
		answer, err := http.Get(st.url + path)
		if err != nil {
			return 0, nil, "", err
		}
		defer answer.Body.Close()
		b, err := io.ReadAll(answer.Body)
		return answer.StatusCode, answer.Header, string(b), err
	}
	for _, c := range []struct{ path, kind, name, begins string }{
		{"/api/vessels/bramble/recording", "text/csv", "bramble.csv", "time,distance_mm"},
		{"/api/readings?from=2026-03-01T00:00:00Z&to=2026-03-15T00:00:00Z", "text/csv", "readings.csv", "time,vessel"},
		{"/api/readings?format=line-protocol", "text/plain", "readings.txt", "leavend,vessel="},
		{"/api/journal", "application/json", "journal.json", "{"},
	} {
		code, head, body, err := get(c.path)
		if err != nil || code != 200 || !strings.HasPrefix(head.Get("Content-Type"), c.kind) || !strings.Contains(head.Get("Content-Disposition"), c.name) || !strings.HasPrefix(body, c.begins) {
			t.Errorf("%s: %d %v %q %v", c.path, code, head, body, err)
		}
	}
	for path, want := range map[string]int{
		"/api/vessels/unknown/recording": 404, "/api/readings?vessel=unknown": 404, "/api/readings?format=xml": 400,
		"/api/readings?from=2026-03-02T00:00:00Z&to=2026-03-01T00:00:00Z": 400, "/api/journal?from=monday": 400,
		"/api/readings?vessel=dough": 500, // with a problem document, for nothing was sent yet
	} {
		if code, head, body, err := get(path); err != nil || code != want || head.Get("Content-Type") != "application/problem+json" {
			t.Errorf("%s: %d %q %v, want %d", path, code, body, err, want)
		}
	}
	if _, _, body, err := get("/api/readings?vessel=pilot"); err == nil {
		t.Errorf("a part was taken for the whole: %q", body)
	}
}
