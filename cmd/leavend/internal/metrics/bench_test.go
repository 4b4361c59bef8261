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
			m := New(opts())
			for i := range jars {
				id := fmt.Sprintf("jar-%04d", i)
				m.Vessel(Vessel{ID: id, Available: true, Stage: "rising", HeightMM: new(82.4), RiseMM: new(37.4), RiseRatio: new(1.83), TemperatureC: new(25.0), FedAt: noon, ForecastAt: noon, ForecastLow: noon, ForecastHigh: noon})
				m.Reading(Reading{Sensor: id + "-height", Quantity: "distance", Value: 117, At: noon})
				m.Reading(Reading{Sensor: id + "-crumb", Quantity: "temperature", Value: 25, At: noon})
			}
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
