package web_test

import (
	"context"
	"fmt"
	"net/http/httptest"
	"time"

	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/web"
)

// oneJar is the least a House can be: it shows one jar and keeps nothing.
type oneJar struct{ web.House }

func (oneJar) Now() web.Kitchen {
	at := time.Date(2026, 3, 14, 7, 0, 0, 0, time.UTC)
	return web.Kitchen{At: at, Vessels: []web.Vessel{{ID: "bramble", Name: "Bramble", Kind: web.Jar, Stage: web.Rising, Ratio: &web.Measure{Value: 1.86, At: at}}}}
}

func (oneJar) AddFeed(_ context.Context, _ string, f web.Feed) (web.Feed, error) {
	return web.Feed{}, &failure.Refusal{Code: "example", Why: "This jar is only drawn."}
}

func ExampleNew() {
	server, err := web.New(oneJar{}, web.Opts{})
	if err != nil {
		fmt.Println(err)
		return
	}
	w := httptest.NewRecorder()
	r := httptest.NewRequest("GET", "http://localhost/api/session", nil)
	r.RemoteAddr = "127.0.0.1:40000"
	server.Handler().ServeHTTP(w, r)
	fmt.Println(w.Code, w.Body)
	// Output: 200 {"may_read":true,"may_change":true,"signed_in":false,"at_the_machine":true,"password_set":false,"needs_code":false,"tls":false}
}
