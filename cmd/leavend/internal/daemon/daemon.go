package daemon

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"syscall"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/hardware"
	"leavend/cmd/leavend/internal/heating"
	"leavend/cmd/leavend/internal/metrics"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/mqtt"
	"leavend/cmd/leavend/internal/notify"
	"leavend/cmd/leavend/internal/planning"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/store/dbfile"
	"leavend/cmd/leavend/internal/text"
	"leavend/cmd/leavend/internal/version"
	"leavend/cmd/leavend/internal/web"
	"leavend/cmd/leavend/internal/web/backend"
	"leavend/control"
	"leavend/sensor"
)

// Daemon builds the parts of the application, runs and stops them. Nothing in it
// starts before Run.
type Daemon struct {
	*monitor.Monitor
	listeners listeners // those who must hear what happens while the daemon opens
	super     *supervisor
	sensing   *sensing
	Mat       *heating.Mat // nil without a mat
	heat      *heating.Heater
	readyBy   *heating.ReadyBy // nil without a vessel on the mat
	client    *mqtt.Client     // nil without MQTT
	broker    *mqtt.Broker     // nil with another broker
	link      *mqttLink
	metrics   *measures
	page      *web.Server // nil without a page
	curves    *backend.History
	messages  *notify.Dispatcher // nil without a recipient

	parts                 []*part // what the daemon can be without
	metricsPort, pagePort *port   // nil where not wanted

	started     time.Time // by the daemon's clock, which a demo makes up
	startedReal time.Time // the same by the machine's
	lossy       bool      // what was in the history before is lost, all or in part
	damaged     bool      // the history lost something when it was opened, or cannot be kept
	temporary   string    // the folder in memory of a history that lasts until the end; "" for none
	ran         bool      // Run was called, and the mat may have been switched on
	plans       *planning.Keeper

	Local string // socket for commands on this board; "" for none

	noteFile string // where the note for 'leavend mat off' is
	given    Parts  // in place of the board's own
}

// listeners are those who hear of what happens from the beginning.
type listeners struct{ log, store, metrics, plan *monitor.Listener }

// Parts are what a demo or a test brings in place of the board's own.
type Parts struct {
	Clock     *event.Clock                                                         // in place of the machine's
	ClockMade bool                                                                 // that clock is invented, which the history must know
	Mat       control.Output                                                       // in place of the configured output
	Simulated func(config.Sensor) (distance, temperature sensor.Source, err error) // in place of chips
	Sender    func(address, key string) (notify.Sender, error)                     // in place of the network
	Past      func(context.Context, *store.Store) error                            // fills an empty store
	Hub       *monitor.Hub                                                         // of somebody who listens from the beginning
	Local     bool                                                                 // commands on this board may ask
	Note      string                                                               // where `leavend mat off` looks; "" is the usual place
	Invented  bool                                                                 // all data is invented, and the page says so
	Agreed    bool                                                                 // the mat is invented, so its cautions need not be accepted
	Reload    func(before []byte)                                                  // starts the daemon again with a config that the page has changed; nil where it cannot
	Restore   func(backup string)                                                  // starts the daemon again with a backup of the history; nil where it cannot
}

// New opens everything and switches nothing on. The mat's output comes
// first: opened early it is in its safe state early, and see OpenLine.
func New(ctx context.Context, conf *config.Config, log *slog.Logger, p Parts) (_ *Daemon, err error) {
	d := newDaemon(conf, log, p)
	defer func() {
		if err != nil {
			err = errors.Join(err, d.Close())
		}
	}()
	for _, open := range []func(context.Context) error{
		d.openMat, d.openStore, d.openEvents, d.OpenKept, d.openMQTT, d.sensing.open, d.Open,
		d.openKeeper, d.openMetrics, d.openHeat,
	} {
		if err = open(ctx); err != nil {
			return nil, err
		}
	}
	if err = d.openMessages(ctx, p.Sender); err != nil {
		return nil, err
	}
	d.link.messages, d.metrics.messages = d.messages, d.messages
	if err = d.openPage(p); err != nil {
		return nil, err
	}
	if err := d.Events.Begin(ctx); err != nil {
		d.Log.Error("the event log cannot be written", "err", err)
	}
	d.openParts()
	return d, nil
}

// newDaemon has the parts of a daemon know one another. Nothing is open yet.
func newDaemon(conf *config.Config, log *slog.Logger, p Parts) *Daemon {
	if p.Clock == nil {
		p.Clock = event.NewClock(time.Now(), 1)
	}
	d := &Daemon{Monitor: monitor.NewMonitor(conf, p.Clock, log), super: newSupervisor(), started: p.Clock.Now(), startedReal: time.Now(), given: p, noteFile: p.note(conf.DataDir)}
	if p.Hub != nil {
		d.SetHub(p.Hub)
	}
	d.Changed = func(slug string) { d.messages.BakerPresent(slug); d.readyBy.Forget() }
	d.listeners = listeners{log: d.Hub.Listen("log"), store: d.Hub.Listen("store"), metrics: d.Hub.Listen("metrics"), plan: d.Hub.Listen("plan")}
	d.heat = heating.NewHeater(conf, filepath.Dir(d.noteFile), d.Clock, d.Alarms, d.Log)
	d.heat.OnAcknowledge = func() { d.messages.BakerPresent(event.SubjectMat) }
	d.HeldAt = d.heat.Holds
	d.link = &mqttLink{m: d.Monitor, heat: d.heat}
	d.sensing = &sensing{m: d.Monitor, heat: d.heat, registry: &hardware.Registry{Clock: d.Clock, Simulated: p.Simulated}}
	if p.Local {
		d.Local = SocketBeside(d.noteFile)
	}
	return d
}

// openMat opens what switches the mat, off, and finds the GPIO lines of sensors,
// which come before other files too.
func (d *Daemon) openMat(context.Context) (err error) {
	out := d.given.Mat
	if out == nil {
		if out, err = heating.OpenOutput(d.Conf, d.noteFile, d.link); err != nil {
			return err
		}
	}
	if d.heat.Output = out; out != nil {
		if d.Mat, err = heating.NewMat(d.Conf, out, d.heat.Saved); err != nil {
			return err
		}
		d.heat.Mat = d.Mat
	}
	d.sensing.registry.Prepare(d.Conf.Sensors, d.Conf.Buses...)
	return nil
}

func (d *Daemon) openKeeper(ctx context.Context) error {
	d.plans = planning.NewKeeper(ctx, d.Monitor)
	d.link.plans = d.plans
	return nil
}

func (d *Daemon) openMetrics(context.Context) error {
	d.metrics = &measures{m: d.Monitor, heat: d.heat, sensing: d.sensing, client: d.client}
	d.metrics.Metrics = metrics.New(d.metrics.opts())
	d.sensing.metrics = d.metrics.Metrics
	return nil
}

// openHeat gives the mat back what it knew, and opens what steers it.
func (d *Daemon) openHeat(ctx context.Context) error {
	d.heat.Recall(ctx, d.Store.States, d.given.Agreed || d.given.Invented, d.lossy)
	if d.readyBy = heating.OpenReadyBy(ctx, d.Monitor, d.heat); d.readyBy != nil {
		d.plans.Mat, d.link.readyBy = d.readyBy, d.readyBy
	}
	return nil
}

// note returns where the note for `leavend mat off` goes: systemd's runtime
// folder, or else beside the data.
func (p Parts) note(dataDir string) string {
	if p.Note != "" {
		return p.Note
	}
	note := filepath.Join(cmp.Or(os.Getenv("RUNTIME_DIRECTORY"), dataDir), heating.NoteName)
	if abs, err := filepath.Abs(note); err == nil {
		note = abs // so that others find the socket by its name
	}
	return note
}

// openStore opens the history, and gives it a past where one is given. Where the
// disk cannot be written the history goes to memory, so that the curve is seen, and
// an alarm is raised.
func (d *Daemon) openStore(ctx context.Context) error {
	opts := store.Opts{
		Backups:  d.Conf.Store.BackupDir,
		FullRate: time.Duration(d.Conf.Store.FullRateDays) * 24 * time.Hour,
		Flush:    d.Clock.Real(d.Conf.Store.SyncEvery),
	}
	if d.given.ClockMade {
		opts.Clock = store.SteadyClock(d.Clock.Now, fmt.Sprintf("made up %d", time.Now().UnixNano()))
	}
	err := os.MkdirAll(filepath.Dir(d.Conf.Store.File), 0o750)
	var report store.Report
	if err == nil {
		d.Store, report, err = store.Open(ctx, d.Conf.Store.File, opts)
	}
	var inUse *dbfile.InUseError
	switch {
	case errors.As(err, &inUse):
		return err
	case err != nil:
		if err = d.openTemporary(ctx, opts, err); err != nil {
			return err
		}
	case !report.OK():
		d.lossy, d.damaged = true, true
		d.Log.Error("the history was damaged", "report", report.String())
		d.Alarms.Raise(d.Clock.Now(), event.AlarmKey{Subject: event.SubjectDaemon, Reason: event.StorageFailing}, event.AlarmText{Say: report.Explain(), Detail: report.Damage})
	case len(report.Aside) > 0:
		d.damaged = true
		d.raiseAside(report)
	}
	if d.given.Past == nil {
		return nil
	}
	return d.given.Past(ctx, d.Store)
}

// raiseAside says that rows of the history could not be read. What the mat knew
// may be among them.
func (d *Daemon) raiseAside(report store.Report) {
	for _, r := range report.Aside {
		d.lossy = d.lossy || r.Table == "kept"
		d.Log.Error("a row of the history could not be read and is kept aside", "row", r.String())
	}
	key := "alarm.storage.rows"
	if report.Filled.Backup != "" {
		key = "alarm.storage.rows_back"
	}
	d.Alarms.Raise(d.Clock.Now(), event.AlarmKey{Subject: event.SubjectDaemon, Reason: event.StorageFailing, Part: "rows"},
		event.AlarmText{Say: text.Say(key, text.Count("n", len(report.Aside))), Detail: report.Aside[0].String()})
}

// openEvents opens the event log in the store.
func (d *Daemon) openEvents(ctx context.Context) error {
	var err error
	if d.Events, err = event.OpenLog(ctx, d.Store.EventLog); err != nil {
		d.Log.Error("what was not told yet cannot be read", "err", err)
		d.Alarms.Raise(d.Clock.Now(), event.AlarmKey{Subject: event.SubjectDaemon, Reason: event.StorageFailing, Part: "events"},
			event.AlarmText{Say: text.Say("alarm.storage.events"), Detail: err.Error()})
	}
	return nil
}

// openTemporary opens a history that lasts until the next restart.
func (d *Daemon) openTemporary(ctx context.Context, opts store.Opts, why error) error {
	dir, err := TemporaryDir("/dev/shm")
	if err != nil {
		return errors.Join(why, err)
	}
	d.temporary = dir
	d.lossy, d.damaged = true, true
	d.Log.Error("the history cannot be opened; it is kept in memory until the next start", "err", why)
	if d.Store, _, err = store.Open(ctx, filepath.Join(dir, "leavend.db"), opts); err != nil {
		return errors.Join(why, err)
	}
	d.Alarms.Raise(d.Clock.Now(), event.AlarmKey{Subject: event.SubjectDaemon, Reason: event.StorageFailing},
		event.AlarmText{Say: text.Say("alarm.storage.temporary"), Detail: why.Error()})
	return nil
}

// TemporaryDir makes a folder in memory for the history of this process, and takes
// away those of processes that are no more: memory is what a board has least of.
func TemporaryDir(in string) (string, error) {
	old, _ := filepath.Glob(filepath.Join(in, "leavend-*-*")) // the pattern is sound
	for _, dir := range old {
		var pid int
		if n, _ := fmt.Sscanf(filepath.Base(dir), "leavend-%d-", &pid); n == 1 && errors.Is(syscall.Kill(pid, 0), syscall.ESRCH) {
			_ = os.RemoveAll(dir) // of another user it stays
		}
	}
	return os.MkdirTemp(in, fmt.Sprintf("leavend-%d-", os.Getpid()))
}

// openMQTT makes the client, and the broker it speaks to if that is ours, and brings
// what the mat's plug says to its output.
func (d *Daemon) openMQTT(ctx context.Context) (err error) {
	if d.client, d.broker, err = mqtt.Open(ctx, d.Conf, mqtt.OpenOpts{Version: version.Version, Command: d.link.execute, Events: d.Events, Log: d.Log}); err != nil {
		return err
	}
	if d.client != nil {
		d.link.client = d.client
		d.sensing.registry.Subscribe = func(filter string, heard func([]byte, time.Time, bool)) error {
			return d.client.Subscribe(filter, func(in mqtt.Inbound) { heard(in.Payload, d.Clock.Now(), in.Retained) })
		}
	}
	return d.link.subscribePlug(d.heat.Output)
}
