package web

import (
	"testing"
	"time"
)

func TestTargetTime(t *testing.T) {
	_, _, v := newKitchen(t, Opts{})
	shown := func() any {
		_, now := v.do("GET", "/api/now", "")
		return now["vessels"].([]any)[0].(map[string]any)["wish"]
	}
	at := `{"at":"` + fakeStart.Add(8*time.Hour).Format(time.RFC3339) + `"}`
	if code, _ := v.do("PUT", "/api/vessels/bramble/wish", at); code != 204 || shown() == nil {
		t.Errorf("a target time = %d, shown %v", code, shown())
	}
	if code, problem := v.do("PUT", "/api/vessels/pilot/wish", at); code != 409 {
		t.Errorf("for a jar that stands on no mat = %d %v", code, problem)
	}
	if code, _ := v.do("DELETE", "/api/vessels/bramble/wish", ""); code != 204 || shown() != nil {
		t.Errorf("dropped = %d, shown %v", code, shown())
	}
}
