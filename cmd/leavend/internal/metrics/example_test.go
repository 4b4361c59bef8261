package metrics_test

import (
	"fmt"
	"net/http/httptest"
	"strings"

	"leavend/cmd/leavend/internal/metrics"
)

// Values go in as plain numbers in the kitchen's units and come out in base
// units.
func Example() {
	m := metrics.New(metrics.Opts{Version: "1.0"})
	m.Vessel(metrics.Vessel{ID: "bramble", Available: true, HeightMM: new(82.5)})
	w := httptest.NewRecorder()
	m.Handler().ServeHTTP(w, httptest.NewRequest("GET", "/metrics", nil))
	for line := range strings.Lines(w.Body.String()) {
		if strings.HasPrefix(line, "leavend_surface") {
			fmt.Print(line)
		}
	}
	// Output: leavend_surface_height_meters{vessel="bramble"} 0.0825
}
