package web_test

import (
	"fmt"
	"net/http/httptest"
	"time"

	"leavend/cmd/leavend/internal/web"
)

// oneJar is a Watch that shows one jar.
type oneJar struct{}

func (oneJar) Now() web.Snapshot {
	at := time.Date(2026, 3, 14, 7, 0, 0, 0, time.UTC)
	return web.Snapshot{At: at, Vessels: []web.Vessel{{ID: "bramble", Name: "Bramble", Kind: web.Jar, Stage: web.Rising, Ratio: &web.Measure{Value: 1.86, At: at}}}}
}

func (oneJar) Setup(string) web.Setup { return web.Setup{Version: "example"} }

func ExampleNew() {
	server, err := web.New(web.Backend{Watch: oneJar{}}, web.Opts{})
	if err != nil {
		fmt.Println(err)
		return
	}
	w := httptest.NewRecorder()
	r := httptest.NewRequest("GET", "http://localhost/api/session", nil)
	r.RemoteAddr = "127.0.0.1:40000"
	server.Handler().ServeHTTP(w, r)
	fmt.Println(w.Code, w.Body)
	// Output: 200 {"may_read":true,"may_feed":true,"may_change":true,"signed_in":false,"at_the_machine":true,"password_set":false,"needs_code":false,"tls":false}
}
