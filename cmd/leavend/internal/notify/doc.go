// Package notify brings the word to the baker: on the phone, by mail, or to a
// webhook. (MQTT and the page hear of everything by themselves.)
//
// # The way of a message
//
// Events come from the event log, by a cursor of the notifier's own; what happens
// beside them reaches [Notifier.Handle] and [Notifier.Expect]. The notifier
// decides whom an event concerns and appends one message for each recipient to
// the same log, in one write with its own state and its cursor, so that a kill
// leaves all of it or nothing. [Notifier.Run] takes each recipient's messages from
// there, one at a time and in order, puts them into words, sends them, and only
// then moves the recipient's cursor: a daemon that is killed in between says a
// thing twice, never not at all. The words are chosen at the moment of sending, so
// that a top that had to wait for the network is told as one that was. A full disk
// delays none of it: the log then lives in memory.
//
// Each recipient has two lanes. The usual one keeps quiet hours and the limit
// of messages an hour; the urgent one, for mat faults, keeps neither.
//
// # Failures
//
// A failure that passes (no network, a busy server) is tried again after 15
// seconds, then twice as long each time up to five minutes, until the message
// expires. An address that is refused (a wrong token, an unknown topic) is
// tried every fifteen minutes, since it may be put right before the
// message is stale. A message that the other side will never take is given up,
// and counted. What an error says about itself is chosen from a short list and
// never quoted, because services like to repeat the address, and the address is
// a secret.
//
// # The library
//
// Phones and mail are reached by service URLs through
// github.com/nicholas-fedor/shoutrrr, pinned at v0.13.2: the maintained
// continuation of containrrr/shoutrrr, some thirty services behind one kind of
// URL, MIT. It knows no contexts, so a send that hangs is left behind after a
// time limit, and no more than three of those may hang for one recipient. It
// adds 0.9 MB to a stripped arm64 program that has net/http and net/smtp
// anyway (7.47 to 8.39 MB, Go 1.26), and two small packages beside its own:
// mattn's go-colorable and go-isatty. Our own code for thirty services would be
// neither smaller nor kept up to date.
//
// A webhook (an address that begins with https:// or http://) is our own, since
// it is fifty lines: the body is JSON, signed as the Standard Webhooks
// specification says, with an id that stays the same when a message is sent
// twice.
//
// Browser push is [Devices], by github.com/SherClockHolmes/webpush-go, pinned at
// v1.4.0 (MIT; beside x/crypto it needs golang-jwt only): encryption for one
// browser (RFC 8291) and the daemon's signature (RFC 8292). All browsers together
// are one recipient; a message that one of them did not get is sent again to that
// one alone.
package notify
