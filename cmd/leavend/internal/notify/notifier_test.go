package notify

import (
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"leavend/cmd/leavend/internal/config"
)

// In a synctest bubble time begins at midnight UTC on 1 January 2000.

func TestTopIsSaidUntilSomebodyComes(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		k := start(t, nil, anna())
		defer k.close()
		k.hear(Event{Kind: Peaked, For: time.Now()})
		l := k.want("Bramble is ready")
		if !strings.HasPrefix(l[0].Link, "https://board.example/ack/") {
			t.Errorf("the link is %q", l[0].Link)
		}
		pass(16 * time.Minute)
		k.want("Again: Bramble is ready")
		k.hear(Event{Kind: BakerPresent})
		pass(3 * time.Hour)
		k.want()
		k.hear(Event{Kind: Fell, For: time.Now().Add(-3 * time.Hour)})
		k.want() // somebody came
	})
}

func TestNobodyComes(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		k := start(t, nil, anna())
		defer k.close()
		k.hear(Event{Kind: Peaked, For: time.Now()})
		pass(59 * time.Minute)
		again := "Again: Bramble is ready"
		k.want("Bramble is ready", again, again, again)
		pass(30 * time.Minute)
		k.hear(Event{Kind: Fell, For: time.Now().Add(-90 * time.Minute)})
		k.want("Bramble is falling")
		k.hear(Event{Kind: Fed})
		pass(24 * time.Hour)
		k.want()
	})
}

// TestDoughLeftStanding follows dough that is not acknowledged, and dough that
// somebody has seen.
func TestDoughLeftStanding(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		k := start(t, nil, anna())
		defer k.close()
		ready := time.Now()
		k.hear(Event{Kind: Risen, Bowl: true, For: ready})
		k.want("Bramble is ready to shape")
		pass(10 * time.Minute)
		k.hear(Event{Kind: GoesOver, Bowl: true, For: ready, RiseRatio: 2})
		k.want("Bramble is going over")
		pass(10 * time.Minute)
		k.hear(Event{Kind: PastBest, Bowl: true, For: ready, RiseRatio: 2.2})
		k.want("Bramble is past its best")
		pass(3 * time.Hour)
		k.want() // it is the last message
		k.hear(Event{Kind: Fed})
		k.hear(Event{Kind: Risen, Bowl: true, For: time.Now()})
		k.want("Bramble is ready to shape")
		k.hear(Event{Kind: BakerPresent})
		k.hear(Event{Kind: GoesOver, Bowl: true, For: time.Now()})
		pass(time.Minute)
		k.want()
	})
}

func TestHeadsUp(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		k := start(t, nil, anna())
		defer k.close()
		top := time.Now().Add(2 * time.Hour)
		k.expect(top)
		k.want()
		pass(91 * time.Minute)
		k.expect(top)
		k.expect(top.Add(10 * time.Minute)) // not far enough to say it again
		k.want("Bramble: peak at about 02:00")
		k.expect(top.Add(20 * time.Minute))
		if l := k.want("Bramble: peak at about 02:20"); len(l) == 1 && !strings.HasPrefix(l[0].Text, "Later than announced (02:00).") {
			t.Errorf("it says %q", l[0].Text)
		}
		k.expect(top.Add(-10 * time.Minute))
		k.want() // twice is enough
		k.hear(Event{Kind: Peaked, For: time.Now()})
		k.expect(top)
		k.want("Bramble is ready")
	})
}

func TestNetworkAwayForAnHour(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		k := start(t, nil, anna())
		defer k.close()
		k.phone.cut(&Failure{Passing, "no network"})
		top := time.Now()
		k.expect(top.Add(29 * time.Minute))
		pass(29 * time.Minute)
		k.hear(Event{Kind: Peaked, For: top.Add(29 * time.Minute), RiseRatio: 2.5})
		pass(3 * time.Hour)
		if s := k.Stats()["phone"]; s.Waiting != 1 || s.Failed < 10 || s.Trouble != "no network" {
			t.Errorf("it stands at %+v", s) // the heads-up has expired, and no repeats have piled up
		}
		k.phone.cut(nil)
		pass(5 * time.Minute)
		k.want("Bramble peaked at 00:29")
		if s := k.Stats()["phone"]; s.Waiting != 0 || s.Trouble != "" || s.Sent != 1 {
			t.Errorf("it stands at %+v", s)
		}
	})
}

func TestOrder(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		k := start(t, nil, anna())
		defer k.close()
		k.phone.cut(&Failure{Passing, "no network"})
		for _, name := range []string{"Bramble", "Pilot", "Third"} {
			k.hear(Event{Kind: Peaked, Vessel: strings.ToLower(name), Name: name, For: time.Now()})
		}
		pass(time.Minute)
		k.phone.cut(nil)
		pass(2 * time.Minute)
		k.want("Bramble is ready", "Pilot is ready", "Third is ready")
	})
}

func TestFates(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		k := start(t, nil, anna())
		defer k.close()
		k.phone.cut(ofStatus(400))
		k.hear(Event{Kind: Peaked, For: time.Now()})
		if s := k.Stats()["phone"]; s.Waiting != 0 || s.Failed != 1 {
			t.Errorf("a message that will never be taken: %+v", s)
		}
		k.phone.cut(ofStatus(401))
		k.hear(Event{Kind: Peaked, Vessel: "pilot", Name: "Pilot", For: time.Now()})
		pass(14 * time.Minute)
		if s := k.Stats()["phone"]; s.Waiting != 1 || s.Failed != 2 {
			t.Errorf("a wrong token: %+v", s)
		}
		k.phone.cut(nil)
		pass(2 * time.Minute)
		if all := titles(k.phone.take()); !slices.Contains(all, "Pilot is ready") {
			t.Errorf("the phone shows %q", all)
		}
		// A router that starts answers for every address that it has moved.
		k.phone.cut(ofStatus(302))
		k.hear(Event{Kind: AlarmRaised, Vessel: "mat", Name: "the mat", Fault: MatFault, Text: "the cutoff was reached"})
		pass(2 * time.Minute)
		k.phone.cut(nil)
		pass(2 * time.Minute)
		if all := titles(k.phone.take()); len(all) != 1 {
			t.Errorf("the mat's fault waits for the address: the phone shows %q", all)
		}
	})
}

func TestFlappingSensor(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		k := start(t, nil, anna())
		defer k.close()
		flap := func(d time.Duration) {
			for end := time.Now().Add(d); time.Now().Before(end); {
				k.hear(Event{Kind: AlarmRaised, Fault: SensorFault, Text: "no answer"})
				pass(time.Minute)
				k.hear(Event{Kind: AlarmCleared, Fault: SensorFault})
				pass(4 * time.Minute)
			}
		}
		flap(70 * time.Minute)
		pass(10 * time.Minute)
		if l := k.want("Bramble: a sensor is not answering", "The sensor of Bramble works again"); len(l) == 2 && !strings.Contains(l[1].Text, "failed 14 times") {
			t.Errorf("the summary says %q", l[1].Text)
		}
		flap(7 * time.Hour)
		k.want("Bramble: a sensor is not answering", "The sensor of Bramble keeps failing")
	})
}

func TestFaultAcrossRestart(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		k := start(t, nil, anna())
		k.hear(Event{Kind: AlarmRaised, Fault: SensorFault, Text: "no answer"})
		k.want("Bramble: a sensor is not answering")
		k.close()
		pass(time.Minute)
		k = start(t, k.box, anna()) // the sensor is still out
		k.hear(Event{Kind: AlarmRaised, Fault: SensorFault, Text: "no answer"})
		pass(time.Hour)
		k.want()
		k.close()
		k = start(t, k.box, anna()) // and now it answers
		pass(11 * time.Minute)
		if l := k.want("The sensor of Bramble works again"); strings.Contains(l[0].Text, "times") {
			t.Errorf("a restart counts as a failure: %q", l[0].Text)
		}
		k.close()
	})
}

func TestQuietHours(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := anna()
		p.QuietFrom, p.QuietTo = 22*60+30, 6*60+30
		k := start(t, nil, p) // at midnight
		defer k.close()
		k.hear(Event{Kind: Peaked, For: time.Now()})
		k.hear(Event{Kind: Peaked, Vessel: "pilot", Name: "Pilot", For: time.Now()})
		pass(2 * time.Hour)
		k.want()
		k.hear(Event{Kind: AlarmRaised, Vessel: "mat", Name: "the mat", Fault: MatFault, Text: "too hot"})
		k.want("Heat mat: check it now")
		k.hear(Event{Kind: AlarmCleared, Vessel: "mat", Fault: MatFault})
		pass(4*time.Hour + 29*time.Minute)
		k.want()
		pass(2 * time.Minute)
		l := k.want("3 messages from leavend")
		if !strings.Contains(l[0].Text, "Bramble peaked at 00:00") || !strings.Contains(l[0].Text, "Pilot peaked") {
			t.Errorf("in the morning it says %q", l[0].Text)
		}
	})
}

// TestQuietClock checks quiet hours by the wall clock: across midnight, and in
// the nights in which Berlin's clocks change (IANA time zone database: 02:00 to
// 03:00 on 29 March 2026, and 03:00 back to 02:00 on 25 October 2026).
func TestQuietClock(t *testing.T) {
	berlin, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	night := Recipient{Recipient: config.Recipient{QuietFrom: 22*60 + 30, QuietTo: 6*60 + 30}}
	early := Recipient{Recipient: config.Recipient{QuietFrom: 2*60 + 15, QuietTo: 2*60 + 45}}
	tests := []struct {
		name string
		p    Recipient
		utc  string
		want bool
	}{
		{"before", night, "2026-11-24T21:29:00Z", false},
		{"at the start", night, "2026-11-24T21:30:00Z", true},
		{"after midnight", night, "2026-11-24T23:10:00Z", true},
		{"at the end", night, "2026-11-25T05:30:00Z", false},
		{"the short night ends by the wall clock", night, "2026-03-29T04:30:00Z", false},
		{"a minute before", night, "2026-03-29T04:29:00Z", true},
		{"the long night ends by the wall clock", night, "2026-10-25T05:29:00Z", true},
		{"and a minute later", night, "2026-10-25T05:30:00Z", false},
		{"hours that the short night leaves out", early, "2026-03-29T01:20:00Z", false},
		{"hours that the long night has twice, first", early, "2026-10-25T00:20:00Z", true},
		{"hours that the long night has twice, second", early, "2026-10-25T01:20:00Z", true},
		{"none", Recipient{}, "2026-11-24T23:10:00Z", false},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			at, err := time.Parse(time.RFC3339, tt.utc)
			if err != nil {
				t.Fatal(err)
			}
			if got := tt.p.quiet(at, berlin); got != tt.want {
				t.Errorf("quiet at %s: %v, want %v", at.In(berlin), got, tt.want)
			}
		})
	}
}

func TestLimit(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := anna()
		p.MaxPerHour, p.RepeatEvery = 2, 0
		k := start(t, nil, p)
		defer k.close()
		for _, name := range []string{"A", "B", "C", "D", "E"} {
			k.hear(Event{Kind: Peaked, Vessel: name, Name: name, For: time.Now()})
			pass(time.Minute)
		}
		k.want("A is ready", "B is ready")
		k.hear(Event{Kind: AlarmRaised, Vessel: "mat", Name: "the mat", Fault: MatFault, Text: "too hot"})
		k.want("Heat mat: check it now")
		pass(56 * time.Minute)
		k.want("3 messages from leavend")
	})
}

func TestFullDisk(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		k := start(t, nil, anna())
		defer k.close()
		k.phone.cut(&Failure{Passing, "no network"})
		k.hear(Event{Kind: Peaked, For: time.Now()}) // on the disk
		k.box.fill(true)
		k.hear(Event{Kind: AlarmRaised, Vessel: "house", Name: "the kitchen", Fault: Storage, Text: "the disk is full"})
		pass(time.Minute)
		k.phone.cut(nil)
		pass(2 * time.Minute)
		k.want("Bramble is ready", "Readings cannot be saved") // once each, although no mark can be made
		k.box.fill(false)
		pass(time.Minute)
		if s := k.Stats()["phone"]; s.Waiting != 0 {
			t.Errorf("it stands at %+v", s)
		}
		k.want()
	})
}

func TestTargetAtBedtime(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := anna()
		p.QuietFrom, p.QuietTo, p.Kinds = 22*60, 6*60, []Kind{TargetSoon}
		k := start(t, nil, p)
		defer k.close()
		ready := time.Now().Add(30 * time.Hour) // at six the next morning
		for range 30 * 12 {
			if err := k.Expect(t.Context(), Outlook{Vessel: "dough", Name: "Dough", Bowl: true, At: ready}); err != nil {
				t.Error(err)
			}
			pass(5 * time.Minute)
		}
		l := k.want("Dough: ready at about tomorrow 06:00")
		if got, want := l[0].at.Sub(ready), -8*time.Hour-30*time.Minute; got < want || got > want+10*time.Minute {
			t.Errorf("it is said %v before, want half an hour before bedtime at 22:00", got)
		}
	})
}
