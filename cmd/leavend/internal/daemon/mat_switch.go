package daemon

import (
	"context"
	"time"

	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/heating"
	"leavend/cmd/leavend/internal/notify"
)

// watchSwitch tells once that the switch comes near the end of its life. It is
// a word about a part to be bought, and stops nothing.
func (d *Daemon) watchSwitch(ctx context.Context, now time.Time) {
	if d.Warm == nil || d.teller == nil {
		return
	}
	life, n := d.Conf.Mat.SwitchLife, d.Warm.State().OnSwitches
	told := d.keeper.Memory().Worn
	if told.Life != life {
		told = heating.Worn{Life: life} // another part, or another word of its maker's
	}
	times := heating.WornTimes(n, life)
	if times <= told.Times {
		return
	}
	told.Times = times
	// Told before it is stored that it was, and known again by its count should
	// the daemon end in between.
	d.teller.tell(notify.Event{
		What: notify.SwitchWorn, Vessel: event.SubjectMat, Name: "Heat mat", At: now, For: time.Unix(int64(life)*int64(times), 0), Count: int(n), Life: life,
	})
	if err := d.remember(ctx, func(m *heating.Memory) { m.Worn = told }); err != nil {
		d.Log.Error("that the mat's switch wears out was told could not be stored", "err", err)
	}
}
