// Package mqtt publishes states and events by MQTT and takes in readings
// and commands. It holds the client, and a small broker for kitchens that
// have none.
//
// # Topics
//
// With the default prefix, one daemon speaks on these topics. Several boards
// on one broker take a prefix each, such as leavend/north.
//
//	leavend/status               online or offline; retained; the last will says offline
//	leavend/about                JSON; version, start, names, events lost; retained
//	leavend/state                JSON, see Daemon: the plan's next step, and what is wrong; retained
//	leavend/<vessel>/state       JSON, see Vessel; retained
//	leavend/<vessel>/available   online or offline: do the vessel's sensors answer; retained
//	leavend/<vessel>/event       JSON, see events.go; never retained, QoS 1
//	leavend/<vessel>/fed/set     says that the starter was fed now
//	leavend/<vessel>/ready/set   asks to be ready at an hour, such as 20:00 or Saturday 07:30; off forgets it
//	leavend/<vessel>/seen/set    says that its message was seen and need not be sent again
//	leavend/<mat>/state          JSON, see Mat; retained
//	leavend/<mat>/event          JSON, see events.go; never retained, QoS 1
//	leavend/<mat>/setpoint/set   asks for a setpoint, in degrees Celsius
//	leavend/<mat>/mode/set       asks for heat or off; heat only where a person allows it
//	leavend/<mat>/seen/set       as of a vessel; it clears no fault
//
// Every JSON message has ts, the time it speaks of, in RFC 3339 and UTC. A
// number or a time that is not known is null, never zero.
//
// # What is promised
//
// Vessel, Mat, Event and Command return at once or within a bounded time;
// nothing here can hold up the thermostat.
//
// State is latest-wins: while the broker is slow or away, a newer state of the
// same topic takes the older one's place. After each connection every state is
// sent again, so a broker that lost its memory is filled again.
//
// An event is sent at least once and in order, from the event log in Opts.Events.
// While the broker is away events wait there, also across a restart; where too
// many wait the oldest go, which is counted in Stats.EventsLost and told on the
// about topic. An event's id lets a reader drop a repeat.
//
// A command to a plug is sent now or refused, and never queued, retained or
// repeated: not here, not in the client library (each connection has a library
// client of its own, and what that one holds dies with it), not in the broker
// (QoS 0), and not in the kernel: a connection whose bytes stay unconfirmed for
// ten seconds is reset, and they are gone. TestNetworkCut pulls the cable for
// fourteen seconds; without that reset, every one of some 27 commands that the
// kernel had taken came out when the cable was back. What no client can help is
// a broker that hangs for less than the twenty seconds in which we notice: what
// its machine has taken, it passes on when it wakes. The plug's own switch-off
// timer is the bound then, and what a command did is known only from the plug's
// own echo.
//
// # The version of the protocol
//
// It is MQTT 3.1.1, which is all that the client library
// (github.com/eclipse/paho.mqtt.golang) speaks; our own broker takes clients of
// version 5 too. What version 5 would bring is had otherwise: an event's age is
// in the event, so it needs no expiry by the broker; a delayed last will would
// spare a reader the offline of a short break, which every state that follows
// takes back. The other client, which speaks 5, would be a second code base for
// the way a plug is switched, and that way is to stay the one that was tested.
//
// A command that arrives retained is refused: it would be obeyed again at each
// connection. A retained number is no reading, for its age is unknown.
package mqtt
