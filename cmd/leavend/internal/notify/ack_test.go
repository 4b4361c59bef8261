package notify

import (
	"net/http/httptest"
	"strings"
	"testing"
	"testing/synctest"
	"time"
)

// open does what a browser does with a link.
func (k *kitchen) open(method, link string) *httptest.ResponseRecorder {
	w := httptest.NewRecorder()
	k.ServeHTTP(w, httptest.NewRequest(method, link, nil))
	return w
}

func TestLink(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		k := start(t, nil, anna())
		defer k.close()
		k.hear(Event{Kind: Peaked, For: time.Now()})
		link := k.want("Bramble is ready")[0].Link
		if w := k.open("GET", link); w.Code != 200 || !strings.Contains(w.Body.String(), "I have seen it") {
			t.Errorf("the link shows %d %q", w.Code, w.Body)
		}
		pass(16 * time.Minute)
		k.want("Again: Bramble is ready") // a look, such as a messenger's preview, ends nothing
		if w := k.open("POST", link[:len(link)-2]+"AA"); w.Code != 410 {
			t.Errorf("a forged link answers %d", w.Code)
		}
		if w := k.open("DELETE", link); w.Code != 405 {
			t.Errorf("DELETE answers %d", w.Code)
		}
		if w := k.open("POST", link); w.Code != 200 {
			t.Errorf("the button answers %d %q", w.Code, w.Body)
		}
		pass(2 * time.Hour)
		k.want()
		k.hear(Event{Kind: Fed})
		k.hear(Event{Kind: Peaked, For: time.Now()})
		k.want("Bramble is ready")
		k.open("POST", link) // of the top before
		pass(16 * time.Minute)
		again := k.want("Again: Bramble is ready")
		pass(25 * time.Hour)
		if w := k.open("GET", again[0].Link); w.Code != 410 {
			t.Errorf("after a day the link answers %d", w.Code)
		}
	})
}

func TestLinkOutlivesRestart(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		k := start(t, nil, anna())
		k.hear(Event{Kind: Peaked, For: time.Now()})
		link := k.want("Bramble is ready")[0].Link
		k.close()
		k = start(t, k.box, anna())
		defer k.close()
		k.open("POST", link)
		pass(time.Hour)
		k.want()
	})
}

func FuzzLink(f *testing.F) {
	f.Add("x.y")
	f.Add("")
	f.Fuzz(func(t *testing.T, token string) {
		k := &links{now: time.Now, key: make([]byte, keyLength)}
		if _, err := k.read(token); err == nil {
			t.Errorf("%q opens something", token)
		}
	})
}
