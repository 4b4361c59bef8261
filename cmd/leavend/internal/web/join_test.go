package web

import (
	"net/http/httptest"
	"strings"
	"testing"
)

// TestTheDocumentKeepsToTheRightToRead holds what the document brings along to
// those who may read it.
func TestTheDocumentKeepsToTheRightToRead(t *testing.T) {
	tests := []struct {
		name  string
		opts  Opts
		shown bool
	}{
		{"at the machine", Opts{}, true},
		{"from elsewhere", Opts{Listen: "0.0.0.0:0"}, false},
		{"from elsewhere, reading open", Opts{Listen: "0.0.0.0:0", OpenReading: true}, true},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, _, v := newKitchen(t, tt.opts)
			if tt.opts.Listen != "" {
				v.from = "192.0.2.7:40000"
			}
			r := httptest.NewRequest("GET", "http://"+v.host+"/", nil)
			r.RemoteAddr = v.from
			w := httptest.NewRecorder()
			v.h.ServeHTTP(w, r)
			body := w.Body.String()
			if got := strings.Contains(body, "Bramble"); got != tt.shown {
				t.Errorf("the document names the jar: %v, want %v", got, tt.shown)
			}
			if !strings.Contains(body, ">Mat</a>") {
				t.Error("the frame lacks the screens")
			}
		})
	}
}
