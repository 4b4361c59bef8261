package web

import (
	"context"
	"encoding/json"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"os/signal"
	"strconv"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/leavendtest/freeport"
)

// fakeClock starts at the invented kitchen's morning and then runs with the
// real one.
func fakeClock() func() time.Time {
	began := time.Now()
	return func() time.Time { return fakeStart.Add(time.Since(began)) }
}

// stage is a served fake kitchen with a second address to steer it by.
type stage struct {
	house   *fakeHouse
	server  *Server
	url     string
	strings string
}

// raise serves the fake house on listen, or on a free port, until the test ends. The strings are
// what a browser test pulls to make something happen in the kitchen.
func raise(t *testing.T, listen string, opts Opts) *stage {
	t.Helper()
	clock := fakeClock()
	if opts.Now == nil {
		opts.Now = clock
	}
	house := newFakeHouse(clock)
	opts.Household = house
	server, err := New(house.backend(), opts)
	if err != nil {
		t.Fatal(err)
	}
	house.changed = server.Changed
	ctx, stop := context.WithCancel(context.Background())
	st := &stage{house: house, server: server}
	if listen == "" {
		listen = freeport.Address(t)
	}
	l, err := net.Listen("tcp", listen)
	if err != nil {
		t.Fatal(err)
	}
	scheme := "http://"
	if server.TLS() {
		scheme = "https://"
	}
	addr := l.Addr().String()
	st.url = scheme + addr
	ended := make(chan error, 1)
	inner, cut := context.WithCancel(ctx)
	go func() { ended <- server.Serve(inner, l) }()
	away := false
	back := func() { // at the same address
		if l, err := net.Listen("tcp", addr); err != nil {
			t.Errorf("the kitchen does not come back: %v", err)
		} else {
			inner, cut = context.WithCancel(ctx)
			go func() { ended <- server.Serve(inner, l) }()
			away = false
		}
	}
	control := http.NewServeMux()
	pull := func(name string, f func(r *http.Request) any) {
		control.HandleFunc("/"+name, func(w http.ResponseWriter, r *http.Request) {
			v := f(r)
			server.Changed()
			_ = json.NewEncoder(w).Encode(v)
		})
	}
	pull("reset", func(*http.Request) any {
		if away { // the job before failed while it was
			back()
		}
		fresh := newFakeHouse(clock)
		house.mu.Lock()
		defer house.mu.Unlock()
		house.shift, house.stale, house.feeds, house.bakes, house.photos, house.mats = 0, 0, fresh.feeds, fresh.bakes, fresh.photos, fresh.mats
		house.lost, house.nextID, house.undone, house.acked, house.set = map[string]bool{}, fresh.nextID, nil, nil, nil
		house.plans, house.stands, house.empty = fakePlans{}, map[string]string{}, false
		house.devices = map[string]PushDevice{}
		house.moves, house.starters, house.fridge, house.used, house.names, house.gone, house.hours, house.floors, house.asks, house.targetTime = nil, nil, map[string]time.Time{}, nil, nil, nil, Hours{}, nil, nil, nil
		return nil
	})
	pull("trip", func(r *http.Request) any { house.trip(r.FormValue("holds") != ""); return nil })
	pull("ask", func(*http.Request) any {
		house.mu.Lock()
		defer house.mu.Unlock()
		house.asks = []Ask{{ID: "top~bramble", Vessel: "bramble", Text: "Bramble has stood at its top since 11:20. Use it within the hour, or feed it.", Since: house.clock().Add(-20 * time.Minute)}}
		return nil
	})
	pull("chill", func(r *http.Request) any {
		house.mu.Lock()
		defer house.mu.Unlock()
		house.fridge[r.FormValue("vessel")] = house.clock().Add(-50 * time.Hour)
		return nil
	})
	pull("stale", func(r *http.Request) any {
		s, _ := strconv.Atoi(r.FormValue("seconds"))
		house.mu.Lock()
		defer house.mu.Unlock()
		house.stale = time.Duration(s) * time.Second
		return nil
	})
	pull("lose", func(r *http.Request) any {
		house.mu.Lock()
		defer house.mu.Unlock()
		house.lost[r.FormValue("vessel")] = r.FormValue("back") == ""
		return nil
	})
	pull("stand", func(r *http.Request) any {
		house.mu.Lock()
		defer house.mu.Unlock()
		house.stands[r.FormValue("vessel")] = r.FormValue("as")
		return nil
	})
	pull("empty", func(*http.Request) any {
		house.mu.Lock()
		defer house.mu.Unlock()
		house.empty = true
		return nil
	})
	pull("shift", func(r *http.Request) any {
		d, _ := time.ParseDuration(r.FormValue("by"))
		house.mu.Lock()
		defer house.mu.Unlock()
		house.shift = d
		return nil
	})
	pull("state", func(*http.Request) any {
		house.mu.Lock()
		defer house.mu.Unlock()
		feeds := map[string]int{}
		for v, list := range house.feeds {
			feeds[v] = len(list)
		}
		// Written while the lock is held, for a handler may change what it names.
		state, err := json.Marshal(map[string]any{"visitors": server.stream.count(), "feeds": feeds, "undone": house.undone, "acked": house.acked, "set": house.set, "mats": house.mats, "bakes": house.bakes,
			"moves": house.moves, "starters": orEmpty(house.starters), "asks": house.asks, "devices": len(house.devices), "floors": house.floors})
		if err != nil {
			t.Error(err)
		}
		return json.RawMessage(state)
	})
	pull("away", func(*http.Request) any { // the daemon goes
		cut()
		<-ended
		away = true
		return nil
	})
	pull("back", func(*http.Request) any { back(); return nil })
	steer := httptest.NewServer(control)
	st.strings = steer.URL
	t.Cleanup(func() {
		steer.Close()
		stop()
		cut()
		if !away {
			<-ended
		}
	})
	return st
}

// TestHold serves the invented kitchen until interrupted, to look at the page
// by hand: LEAVEND_HOLD=127.0.0.1:8420 go test -run TestHold -timeout 0
func TestHold(t *testing.T) {
	listen := os.Getenv("LEAVEND_HOLD")
	if listen == "" {
		t.Skip("set LEAVEND_HOLD to an address to look at the page by hand")
	}
	st := raise(t, listen, Opts{})
	t.Logf("page %s, strings %s", st.url, st.strings)
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	<-ctx.Done()
}
