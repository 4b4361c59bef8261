package mqtt

import (
	"fmt"
	"log/slog"
	"sync/atomic"
	"time"

	"leavend/cmd/leavend/internal/event"
)

// commandReceiver takes what is asked for on the set topics of our own vessels
// and mats, has it obeyed, and answers.
type commandReceiver struct {
	topics  Topics
	execute func(Command) error // nil where no command is taken
	queue   *queue
	events  *eventSender
	log     *slog.Logger

	executed, refused atomic.Uint64
}

// subscribe listens on each set topic of the vessels and mats.
func (r *commandReceiver) subscribe(to *subscriptions, vessels, mats []string) {
	if r.execute == nil {
		return
	}
	for _, id := range vessels {
		r.listen(to, id, CommandFed, CommandReady, CommandSeen)
	}
	for _, id := range mats {
		r.listen(to, id, CommandSetpoint, CommandMode, CommandSeen)
	}
}

func (r *commandReceiver) listen(to *subscriptions, id string, kinds ...CommandKind) {
	for _, kind := range kinds {
		// The filter has no wildcard and passed checkIDs, so this cannot fail.
		_ = to.add(r.topics.Set(id, kind), 1, func(in Inbound) { r.receive(id, kind, in) })
	}
}

// receive handles one message of a set topic. An empty retained one clears the
// topic and asks for nothing.
func (r *commandReceiver) receive(id string, kind CommandKind, in Inbound) {
	if in.Retained && len(in.Payload) == 0 {
		return
	}
	r.answer(id, kind, r.handle(id, kind, in))
}

// handle reads what was asked and has it obeyed.
func (r *commandReceiver) handle(id string, kind CommandKind, in Inbound) error {
	if in.Retained {
		return fmt.Errorf("a retained message is not obeyed; publish it without retain, and clear %s", in.Topic)
	}
	c, err := parseCommand(id, kind, string(in.Payload))
	if err != nil {
		return err
	}
	return r.execute(c)
}

// answer counts the command, says why it was refused, and in any case sends the
// state again, so that a switch drawn as turned turns back.
func (r *commandReceiver) answer(id string, kind CommandKind, err error) {
	if err != nil {
		r.refused.Add(1)
		r.log.Warn("refused a command", "subject", id, "command", string(kind), "err", err)
		r.events.add(event.Event{At: time.Now(), Subject: id, Kind: eventRefused, Text: fmt.Sprintf("%s: %s", kind, err)})
	} else {
		r.executed.Add(1)
	}
	r.queue.again(r.topics.State(id))
}
