package notify

import (
	"testing"

	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/heating"
)

func TestFaultNotice(t *testing.T) {
	for _, tt := range []struct {
		name string
		key  event.AlarmKey
		want Kind // "" for none
	}{
		{"a mat that waits for its cautions", heating.AlarmCautions, MatFault},
		{"a mat that was switched off by hand", event.AlarmKey{Subject: event.SubjectDaemon, Reason: event.MatNotAllowed, Part: "held"}, ""},
		{"a fault of the mat", event.AlarmKey{Subject: event.SubjectMat, Reason: "vessel-cutoff"}, MatFault},
		{"a full disk", event.AlarmKey{Subject: event.SubjectDaemon, Reason: event.StorageFailing, Part: "writing"}, Storage},
		{"a broker that is away", event.AlarmKey{Subject: event.SubjectDaemon, Reason: event.BrokerUnreached}, ""},
		{"a silent sensor", event.AlarmKey{Subject: "bramble", Reason: event.NoReading}, SensorFault},
	} {
		if got, ok := faultNotice(tt.key); ok != (tt.want != "") || ok && got != tt.want {
			t.Errorf("%s: got %q, %v, want %q", tt.name, got, ok, tt.want)
		}
	}
}
