package metrics

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"regexp"
	"strings"
	"testing"
	"time"
)

// TestLandingPageLinks follows each link of the first page.
func TestLandingPageLinks(t *testing.T) {
	address := serve(t, full(), "")
	get := func(path string) (int, string) {
		r, err := http.Get("http://" + address + path)
		if err != nil {
			t.Fatal(err)
		}
		defer r.Body.Close()
		b, err := io.ReadAll(r.Body)
		if err != nil {
			t.Fatal(err)
		}
		return r.StatusCode, string(b)
	}
	_, page := get("/")
	links := regexp.MustCompile(`href="([^"]*)"`).FindAllStringSubmatch(page, -1)
	if len(links) == 0 {
		t.Fatal("no link on the first page")
	}
	for _, l := range links {
		if code, _ := get("/" + strings.TrimPrefix(l[1], "/")); code != http.StatusOK {
			t.Errorf("%s answers %d", l[1], code)
		}
	}
}

// TestConnectionsAreBounded has more visitors than there is room for: the last
// waits until another leaves, and one that never asks anything is let go.
func TestConnectionsAreBounded(t *testing.T) {
	t.Parallel() // it waits for a time limit
	address := serve(t, full(), "")
	dial := func() net.Conn {
		c, err := net.Dial("tcp", address)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { c.Close() })
		return c
	}
	ask := func(c net.Conn) error {
		_, err := fmt.Fprint(c, "GET /metrics HTTP/1.1\r\nHost: board\r\n\r\n")
		return err
	}
	in := make([]net.Conn, maxConns)
	for i := range in {
		in[i] = dial()
		if err := ask(in[i]); err != nil {
			t.Fatal(err)
		}
		if r, err := http.ReadResponse(bufio.NewReader(in[i]), nil); err != nil || r.StatusCode != 200 {
			t.Fatalf("visitor %d: %v", i, err)
		}
	}
	late := dial()
	if err := ask(late); err != nil {
		t.Fatal(err)
	}
	_ = late.SetReadDeadline(time.Now().Add(300 * time.Millisecond))
	if _, err := late.Read(make([]byte, 1)); !errors.Is(err, os.ErrDeadlineExceeded) {
		t.Errorf("visitor %d of %d is answered: %v", maxConns+1, maxConns, err)
	}
	in[0].Close()
	_ = late.SetReadDeadline(time.Time{})
	if r, err := http.ReadResponse(bufio.NewReader(late), nil); err != nil || r.StatusCode != 200 {
		t.Errorf("after one has left: %v", err)
	}
	in[1].Close()
	silent := dial()
	if _, err := io.WriteString(silent, "GET /met"); err != nil {
		t.Fatal(err)
	}
	if _, err := io.Copy(io.Discard, silent); err != nil && !errors.Is(err, io.EOF) {
		t.Logf("let go: %v", err)
	}
}
