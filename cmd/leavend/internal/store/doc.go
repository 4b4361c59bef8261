// Package store keeps the daemon's memory in one SQLite file: readings, feeds,
// events, forecasts, bakes, settings, states, and what is not told yet.
//
// A [Store] is made of parts that each keep what changes together: [Readings],
// [Journal], [States], [EventLog] and [Copies].
//
// # What is safe when
//
// Readings are collected in memory and committed once a minute without a
// flush of the disk, which spares an SD card: a killed process loses at most
// the last minute of readings, a power cut about half a minute more. Feeds,
// events, settings, states and what is to be told are written at once and flushed
// to the disk before the call returns: an acknowledged feed survives SIGKILL and
// a power cut.
//
// Readings.Add never blocks and never fails: it appends to a bounded buffer. A
// disk that fills stops storage and nothing else. The buffer then holds what
// comes, drops its oldest readings when it is full, counts them, and is
// written as soon as there is room again.
//
// # Events on their way out
//
// The store is the disk of package event's log. What follows from an event (a
// journal entry, a message, a consumer's state and its place in the log) is
// written in one transaction, and a change is numbered, so that one whose answer
// was lost is not written twice. The readings that an event was found in go
// first: a restarted detector finds it again in them, and the journal knows it.
//
// # Damage
//
// What happens to a damaged file is written in package dbfile, which keeps it
// sound. Rows of readings, and their indexes, are read each night.
//
// What is dated more than event.Ahead after now is refused, and a file that is
// removed under the daemon takes nothing more.
//
// # Time
//
// A board without a clock chip starts with a wrong wall clock. So everything
// is stored on the monotonic time line of one boot: a row names its clock
// (one boot) and a time t, which is the wall time that clock believed in at
// its start, run forward by the time since boot. When the wall clock jumps,
// no row changes. One number of the clock does, its shift, and with it
// the time that all its rows are read back with. A jump is believed when the
// kernel says that the clock is synchronised, or when it was not before.
//
// # Readings
//
// A reading is one number of one channel ("distance_mm") of one vessel. A
// minute's readings of a vessel make one row, a block, in which values are
// kept to 1/10,000 of their unit and written as differences. Blocks are kept
// for 90 days. Beside them, for ever, stand three levels of rollups, of one
// minute, 15 minutes and one day, with minimum, maximum, mean and count. A
// rollup row (a page) covers an hour of minutes, a day of quarter hours or
// one day; it is written once, when its time is over. Pages still open live
// in memory and are worked out again from the blocks at start, so a crash
// costs nothing. A late reading is merged into its page.
//
// Sizes and times are in RESULTS.md.
package store
