package metrics_test

import (
	"fmt"
	"net/http/httptest"
	"strings"

	"leavend/cmd/leavend/internal/metrics"
	"leavend/cmd/leavend/internal/monitor"
)

// A status goes in with its units, and comes out in base units.
func Example() {
	m := metrics.New(metrics.Opts{Version: "1.0", Collect: func(p metrics.Page) {
		p.Vessel(monitor.Status{ID: "bramble", Available: true, Height: &monitor.Measure{Value: 82.5, Fresh: true}})
	}})
	w := httptest.NewRecorder()
	m.Handler().ServeHTTP(w, httptest.NewRequest("GET", "/metrics", nil))
	for line := range strings.Lines(w.Body.String()) {
		if strings.HasPrefix(line, "leavend_surface") {
			fmt.Print(line)
		}
	}
	// Output: leavend_surface_height_meters{vessel="bramble"} 0.0825
}
