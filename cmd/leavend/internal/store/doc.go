// Package store keeps the daemon's memory in one SQLite file: readings, feeds,
// events, faults, forecasts, bakes, settings and the messages still to send.
//
// # What is safe when
//
// Readings are collected in memory and committed once a minute without a
// flush of the disk, which spares an SD card: a killed process loses at most
// the last minute of readings, a power cut about half a minute more. Feeds,
// events, faults, settings and messages are written at once and flushed to
// the disk before the call returns: an acknowledged feed survives SIGKILL and
// a power cut.
//
// [Store.Add] never blocks and never fails: it appends to a bounded buffer. A
// disk that fills stops storage and nothing else. The buffer then holds what
// comes, drops its oldest readings when it is full, counts them, and is
// written as soon as there is room again.
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
// # Sizes
//
// Four jars at 10 s with four channels each take 0.86 MB a day at full rate,
// so 78 MB for its 90 days, and 0.22 MB a day for ever in rollups: about 80 MB
// a year. That is the file after a year (183 MB, of which a ninth is room that
// thinning leaves for the next month), measured by
//
//	go test ./cmd/leavend/internal/store -run '^$' -bench Year -year 365 -v
//
// which also measures windows: on two cores that others use, 1 to 26 ms of
// processor time from an hour to the year, at most 4 MB of memory. A day makes
// the disk take 18 MB and 33 flushes, most of them for the two feeds and ten
// events in it; see the measurement "day" in the tests for the command.
//
// Each start reads the file once through for its check; that takes about a
// second for 180 MB here and will take some ten seconds from a slow SD card.
//
// # Kills
//
// STORE_KILLS=200 go test ./cmd/leavend/internal/store -run TestKill -v kills a
// writing process at a random moment 200 times on the same file: 812 feeds were
// acknowledged and none was lost, and the file was sound each time.
package store
