package bustest

import (
	"context"
	"testing"
	"testing/synctest"

	"leavend/sensor"
)

// Fuzz feeds a driver replies made of the fuzzer's bytes, one after the other.
// It never panics and always comes back, and a value it takes lies in the range
// it may: such bytes may spell a perfect measurement.
func Fuzz(f *testing.F, open func(testing.TB) Rig, low, high float64) {
	f.Add([]byte{})
	f.Add([]byte{0xEA, 0xCC, 0xEE, 0xAA, 0xB4, 0x01, 0x01, 0x09, 0x00, 0x8B})
	f.Fuzz(func(t *testing.T, replies []byte) {
		synctest.Test(t, func(t *testing.T) {
			r := open(t)
			r.good(t, 0)
			left := replies
			r.Bus.Corrupt(func(_ uint16, _, reply []byte) {
				left = left[copy(reply, left):]
			})
			for range 3 {
				v, err := r.Source.Read(context.Background())
				if err == nil && !(v.Value >= low && v.Value <= high) || err != nil && v != (sensor.Reading{}) {
					t.Errorf("got %+v, %v", v, err)
				}
			}
		})
	})
}
