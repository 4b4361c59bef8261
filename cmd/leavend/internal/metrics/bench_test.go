package metrics

import (
	"fmt"
	"net/http/httptest"
	"testing"
)

// BenchmarkPage makes the page for a number of jars with two sensors each.
func BenchmarkPage(b *testing.B) {
	for _, jars := range []int{2, 50, 1000} {
		b.Run(fmt.Sprint(jars), func(b *testing.B) {
			o := opts()
			o.Collect = func(p Page) {
				s := bramble()
				for i := range jars {
					s.ID = fmt.Sprintf("jar-%04d", i)
					p.Vessel(s)
					p.Sensor(s.ID+"-height", "distance", 117, noon, false)
					p.Sensor(s.ID+"-crumb", "temperature", 25, noon, false)
				}
			}
			m := New(o)
			h, size := m.Handler(), 0
			for b.Loop() {
				w := httptest.NewRecorder()
				h.ServeHTTP(w, httptest.NewRequest("GET", "/metrics", nil))
				size = w.Body.Len()
			}
			b.ReportMetric(float64(size), "bytes/page")
		})
	}
}
