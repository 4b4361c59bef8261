package notify

import (
	"encoding/json"
	"testing"
	"testing/synctest"
	"time"

	"leavend/cmd/leavend/internal/event"
	"leavend/peak"
)

// happen puts an event of Bramble into the log.
func (k *kitchen) happen(kind event.Kind) {
	k.t.Helper()
	body, err := json.Marshal(event.Event{Kind: kind, Subject: "bramble", At: time.Now(), Detected: peak.Event{PeakAt: time.Now()}})
	if err != nil {
		k.t.Fatal(err)
	}
	if err := k.events.Commit(k.t.Context(), event.Change{Records: []event.Record{{Body: body}}}); err != nil {
		k.t.Log(err)
	}
	synctest.Wait()
}

func TestEventOfTheLogIsToldOnce(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		k := start(t, nil, anna())
		k.happen(event.Fed) // no message follows
		k.happen(event.Peak)
		k.want("Bramble is ready")
		k.close()
		k = start(t, k.box, anna())
		defer k.close()
		pass(time.Minute)
		k.want()
	})
}

// A kill comes between what was stored of an event and what follows from it:
// the messages come after the restart, once.
func TestEventBeforeAKillIsTold(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		k := start(t, nil, anna())
		k.close()
		k.happen(event.Peak) // stored, and no longer read
		k.want()
		for range 2 {
			k = start(t, k.box, anna())
			pass(time.Minute)
			if all := k.phone.take(); len(all) > 0 {
				k.box.kept["told"] = append(k.box.kept["told"], 'x')
			}
			k.close()
		}
		if told := string(k.box.kept["told"]); told != "x" {
			t.Errorf("told in %d of two runs, want one", len(told))
		}
	})
}

// A message waits while its recipient cannot be reached, also across a restart,
// and a recipient that is no more holds nothing up.
func TestMessageWaitsAcrossARestart(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ben := anna()
		ben.Name = "tablet"
		k := start(t, nil, anna(), ben)
		k.phone.cut(&Failure{Passing, "no network"})
		k.happen(event.Peak)
		pass(time.Minute)
		k.close()
		k = start(t, k.box, ben)
		defer k.close()
		pass(time.Minute)
		k.want("Bramble is ready")
		if n := len(k.box.held.Records); n != 0 {
			t.Errorf("%d records are left", n)
		}
	})
}

// A record that cannot be read is passed over.
func TestRecordThatCannotBeRead(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		k := start(t, nil, anna())
		defer k.close()
		for _, r := range []event.Record{{Body: []byte(`7`)}, {To: "phone", Body: []byte(`"spoilt"`)}, {To: "phone (urgent)", Body: []byte(`{}`)}} {
			if err := k.events.Commit(t.Context(), event.Change{Records: []event.Record{r}}); err != nil {
				t.Fatal(err)
			}
		}
		k.happen(event.Peak)
		pass(time.Minute)
		k.want("Bramble is ready")
		if n := len(k.box.held.Records); n != 0 {
			t.Errorf("%d records are left", n)
		}
	})
}
