package daemon

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/heating"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/mqtt"
	"leavend/cmd/leavend/internal/notify"
	"leavend/cmd/leavend/internal/planning"
	"leavend/cmd/leavend/internal/store"
	"leavend/control"
	"leavend/control/plug"
)

// mqttLink says by MQTT what is so, and obeys what is asked for there. Its fields
// are set as the daemon opens its parts.
type mqttLink struct {
	m        *monitor.Monitor
	heat     *heating.Heater
	client   *mqtt.Client     // nil without MQTT
	readyBy  *heating.ReadyBy // nil without a vessel on the mat
	plans    *planning.Keeper
	messages *notify.Dispatcher // nil without a recipient
}

// announce passes how a vessel stands to the MQTT client, which never blocks.
// Events it takes from the log.
func (l *mqttLink) announce(it monitor.Item) {
	if it.Status != nil {
		l.client.Vessel(l.vessel(l.m.Vessel(it.Status.Vessel)))
		l.client.Daemon(l.daemonState(it.Status.At))
	}
}

// Connected reports whether a command could go to a plug now.
func (l *mqttLink) Connected() bool { return l.client != nil && l.client.Connected() }

// Command sends a command to the mat's plug. The plug's output is made before the
// client is.
func (l *mqttLink) Command(topic, payload string) error {
	if l.client == nil {
		return mqtt.ErrNotConnected
	}
	return l.client.Command(topic, payload)
}

// vessel is how a vessel goes out by MQTT.
func (l *mqttLink) vessel(v *monitor.Vessel) mqtt.Vessel {
	out := mqtt.VesselOf(v.Status(l.m.Clock.Now()))
	if a, ok := l.readyBy.Advice(v.Conf.Slug); ok {
		out.ReadyAt, out.Ready = mqtt.Time{Time: a.ReadyBy}, planning.Steered(a).In(l.m.Conf.Reader())
		out.ReadyTime = mqtt.Text(a.ReadyBy.In(l.m.Conf.Timezone).Format("15:04"))
	}
	out.Problem = l.problemOf(v.Conf.Slug)
	return out
}

// daemonState is how the daemon itself goes out by MQTT.
func (l *mqttLink) daemonState(now time.Time) mqtt.Daemon {
	out := mqtt.Daemon{At: mqtt.Time{Time: now}, Problem: l.problemOf(event.SubjectDaemon)}
	chosen := l.plans.Chosen()
	if chosen == nil {
		return out
	}
	for _, step := range chosen.Plan.Steps {
		if step.Kind == "loaf" {
			out.LoafAt = mqtt.Time{Time: step.At}
		}
		if step.Kind == "do" && !step.Done && out.NextStep == "" {
			out.NextStep, out.NextAt = mqtt.Text(step.Text), mqtt.Time{Time: step.At}
		}
	}
	return out
}

// problemOf is what is wrong with a vessel, the mat or the daemon.
func (l *mqttLink) problemOf(subject string) mqtt.Problem {
	var all []string
	for _, a := range l.m.Alarms.Of(subject) {
		all = append(all, a.Say.In(l.m.Conf.Reader()))
	}
	return mqtt.ProblemOf(strings.Join(all, " "))
}

// mat passes on how the mat is.
func (l *mqttLink) mat(now time.Time, s control.State) {
	if l.client != nil {
		m := mqtt.MatOf(now, s, l.m.Conf, l.heat.Meter.Joules())
		m.Problem = l.problemOf(event.SubjectMat)
		l.client.Mat(m)
	}
}

// execute does what somebody asked for by MQTT, or says why not.
func (l *mqttLink) execute(c mqtt.Command) error {
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	switch c.Kind {
	case mqtt.CommandFed:
		_, err := l.m.Fed(ctx, c.Subject, store.Feed{})
		return err
	case mqtt.CommandReady:
		return l.setReadyBy(ctx, c.Subject, c.Text)
	case mqtt.CommandSeen:
		return l.acknowledge(ctx, c.Subject)
	case mqtt.CommandSetpoint:
		return l.heat.SetSetpoint(ctx, c.Value)
	case mqtt.CommandMode:
		if c.Mode == mqtt.ModeHeat {
			return l.heat.Resume()
		}
		return l.heat.Pause()
	}
	return fmt.Errorf("%q is not understood", c.Kind)
}

// setReadyBy takes a time in a baker's words; none forgets the one there is.
func (l *mqttLink) setReadyBy(ctx context.Context, slug, text string) error {
	if text == "" {
		return l.readyBy.Drop(ctx, slug)
	}
	at, err := planning.ParseTime(text, l.m.Clock.Now(), l.m.Conf.Timezone)
	if err != nil {
		return err
	}
	return l.readyBy.Ask(ctx, slug, at)
}

// acknowledge says that somebody has seen what is said again about a subject. It
// clears no fault: for that somebody has to look, and say so on the page.
func (l *mqttLink) acknowledge(ctx context.Context, subject string) error {
	if l.messages == nil {
		return notify.ErrNotPending
	}
	return l.messages.Notifier.AcknowledgeSubject(ctx, subject)
}

// subscribePlug brings the plug's own word to its output.
func (l *mqttLink) subscribePlug(out control.Output) error {
	p, ok := out.(*plug.Dev)
	if !ok {
		return nil
	}
	if l.client == nil {
		return errors.New("mat.output: a plug is switched by MQTT, and mqtt.on is false")
	}
	return l.client.SubscribePlug(p, l.m.Clock.Now)
}
