package mqtt

import (
	"bytes"
	"cmp"
	"context"
	"log/slog"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	mqtt "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/packets"
)

// What other clients may use up of the broker's memory, all of them together
// where nothing else is said. Our own client is exempt: its messages are few,
// and the kitchen depends on them. The sizes are guesses: a hub's discovery
// messages are some hundred kilobytes, and the smallest board has 512 MB.
const (
	maxAbsentSessions = 64      // sessions whose client has gone
	maxRetainedBytes  = 8 << 20 // retained topics and payloads
	maxWaitingBytes   = 8 << 20 // messages that wait for an acknowledgement
	maxFilters        = 256     // subscriptions of one client
	sessionExpiry     = 60 * 60 // seconds that a session outlives its connection
	sweepEvery        = 500 * time.Millisecond
)

// limits bounds what other clients use up. It implements the broker library's
// hook. The library bounds the number of a session's waiting messages, but
// neither their bytes, nor the sessions, nor what is retained.
type limits struct {
	mqtt.HookBase
	server *mqtt.Server
	log    *slog.Logger

	waiting  atomic.Int64 // bytes that wait in sessions; measured by sweep, added to in between
	loggedAt atomic.Int64 // when a refusal was logged last, Unix seconds

	mu         sync.Mutex // guards what follows
	retained   map[string]int
	bytes      int                     // of all in retained
	departed   map[*mqtt.Client]uint64 // the order in which clients left; the library knows it by the second only
	departures uint64
}

// ID names the hook to the library.
func (l *limits) ID() string { return "leavend-limits" }

// Provides tells the library which questions to ask here.
func (l *limits) Provides(b byte) bool {
	return bytes.IndexByte([]byte{mqtt.OnPublish, mqtt.OnQosPublish, mqtt.OnSessionEstablish, mqtt.OnSessionEstablished, mqtt.OnDisconnect}, b) >= 0
}

// OnSessionEstablish marks the connection as known before its client hears that it
// is in, so that no silent connection takes its place.
func (l *limits) OnSessionEstablish(cl *mqtt.Client, _ packets.Packet) { markIdentified(cl.Net.Conn) }

// OnSessionEstablished puts the longest absent sessions out where there are too
// many, so that left sessions never keep a new client out.
func (l *limits) OnSessionEstablished(*mqtt.Client, packets.Packet) {
	absent := l.absent()
	for _, cl := range absent[:max(0, len(absent)-maxAbsentSessions)] {
		l.forget(cl)
	}
}

// OnDisconnect notes who leaves a session behind.
func (l *limits) OnDisconnect(cl *mqtt.Client, _ error, expire bool) {
	if expire || isOwn(cl) {
		return
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	l.departures++
	l.departed[cl] = l.departures
}

// OnPublish rejects what there is no room for.
func (l *limits) OnPublish(cl *mqtt.Client, pk packets.Packet) (packets.Packet, error) {
	switch {
	case isOwn(cl):
		return pk, nil
	case pk.FixedHeader.Qos > 0 && l.waiting.Load() > maxWaitingBytes:
		return pk, l.refuse(cl, "too much waits for absent clients")
	case pk.FixedHeader.Retain && !l.retain(pk.TopicName, len(pk.Payload)):
		return pk, l.refuse(cl, "too much is retained")
	}
	return pk, nil
}

// OnQosPublish counts a message that now waits in a session.
func (l *limits) OnQosPublish(_ *mqtt.Client, pk packets.Packet, _ int64, _ int) {
	l.waiting.Add(int64(len(pk.TopicName) + len(pk.Payload)))
}

// retain counts a retained payload of n bytes, none of which takes the topic
// away, and reports whether there is room for it.
func (l *limits) retain(topic string, n int) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	before, known := l.retained[topic]
	if n == 0 {
		if known {
			l.bytes -= before + len(topic)
			delete(l.retained, topic)
		}
		return true
	}
	more := n - before
	if !known {
		more += len(topic)
	}
	if l.bytes+more > maxRetainedBytes {
		return false
	}
	l.bytes += more
	l.retained[topic] = n
	return true
}

// refuse logs a refusal, once a minute at most.
func (l *limits) refuse(cl *mqtt.Client, why string) error {
	now := time.Now().Unix()
	if last := l.loggedAt.Load(); now-last >= 60 && l.loggedAt.CompareAndSwap(last, now) {
		l.log.Warn("broker: refused a message", "why", why, "remote", cl.Net.Remote, "client", clip(cl.ID))
	}
	return packets.ErrRejectPacket
}

// run measures what waits, and puts out the absent sessions that hold most of
// it, until ctx ends.
func (l *limits) run(ctx context.Context) {
	tick := time.NewTicker(sweepEvery)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
			l.sweep()
		}
	}
}

// sweep measures what waits. The library's hooks do not see every message
// that goes, so the sum is taken over all sessions again.
func (l *limits) sweep() {
	for {
		total, most, holder := l.measure()
		l.waiting.Store(total)
		if total <= maxWaitingBytes || most == 0 {
			return
		}
		l.log.Warn("broker: dropped the session of an absent client that held too many messages", "client", clip(holder.ID), "bytes", most)
		l.forget(holder)
	}
}

// measure returns the bytes that wait in all sessions, and the absent session
// with most of them.
func (l *limits) measure() (total, most int64, holder *mqtt.Client) {
	for _, cl := range l.server.Clients.GetAll() {
		var held int64
		for _, pk := range cl.State.Inflight.GetAll(false) {
			held += int64(len(pk.TopicName) + len(pk.Payload))
		}
		total += held
		if cl.StopTime() != 0 && !isOwn(cl) && held > most {
			most, holder = held, cl
		}
	}
	return total, most, holder
}

// absent returns the sessions of other clients that are not connected, the longest
// absent first.
func (l *limits) absent() []*mqtt.Client {
	var out []*mqtt.Client
	order := map[*mqtt.Client]uint64{}
	l.mu.Lock()
	defer l.mu.Unlock()
	for _, cl := range l.server.Clients.GetAll() {
		if n, left := l.departed[cl]; left || cl.StopTime() != 0 && !isOwn(cl) {
			out, order[cl] = append(out, cl), n
		}
	}
	l.departed = order // who is gone is forgotten
	slices.SortFunc(out, func(a, b *mqtt.Client) int { return cmp.Compare(order[a], order[b]) })
	return out
}

// forget ends the session of an absent client.
func (l *limits) forget(cl *mqtt.Client) {
	l.server.UnsubscribeClient(cl)
	cl.ClearInflights()
	if now, ok := l.server.Clients.Get(cl.ID); ok && now == cl {
		l.server.Clients.Delete(cl.ID)
	}
}

// isOwn reports whether a client is ours.
func isOwn(cl *mqtt.Client) bool { return cl.Net.Listener == ownListener }
