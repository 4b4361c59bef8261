package main

import (
	"math"
	"testing"

	"leavend/cmd/leavend/internal/web"
)

func TestOnTop(t *testing.T) {
	nan := math.NaN()
	tests := []struct {
		name  string
		ratio web.Column
		want  float64
		over  bool
	}{
		{"a top of two hours", web.Column{1, 1.5, 1.97, 2, 1.96, 1.5}, 2, true},
		{"with a gap in it", web.Column{1, 1.97, nan, 1.99, 1.2}, 2, true},
		{"still there", web.Column{1, 1.5, 1.99, 2}, 1, false},
		{"no rise", web.Column{1, 1, 0.98}, nan, false},
		{"nothing read", web.Column{nan, nan}, nan, false},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			c := web.FeedCurve{Ratio: tt.ratio}
			for i := range tt.ratio {
				c.Hours = append(c.Hours, float64(i))
			}
			got, over := onTop(c)
			if over != tt.over || over && got != tt.want {
				t.Errorf("%v hours, over %v; want %v, %v", got, over, tt.want, tt.over)
			}
		})
	}
}
