package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"leavend/cmd/leavend/internal/store/dbfile"
	"os"
	"path/filepath"
	"sync"
	"time"

	sqlite3 "modernc.org/sqlite/lib"
)

// Opts are the choices of [Open]. The zero value is what the daemon uses.
type Opts struct {
	Clock    Clock         // SystemClock if nil
	FullRate time.Duration // how long readings stay at full rate; 90 days if 0, at least 2 days
	Flush    time.Duration // between two commits of readings; one minute if 0
	Buffer   int           // readings kept in memory while they cannot be written; 20,000 if 0
	ReadOnly bool          // for backup and export beside a running daemon
	Backups  string        // folder of nightly backups, from which lost rows come back; none if empty
}

func (o Opts) filled() Opts {
	if o.Clock == nil {
		o.Clock = SystemClock()
	}
	if o.FullRate == 0 {
		o.FullRate = 90 * 24 * time.Hour
	}
	o.FullRate = max(o.FullRate, 48*time.Hour)
	if o.Flush == 0 {
		o.Flush = time.Minute
	}
	if o.Buffer == 0 {
		o.Buffer = 20_000
	}
	return o
}

// Store is an open store. It is made of parts, each of which keeps what changes
// together; all their methods may be called from any goroutine.
type Store struct {
	file     *file
	Readings *Readings
	Journal  *Journal
	EventLog *EventLog
	States   *States
	Copies   *Copies
}

// file is the open file below all parts.
type file struct {
	path string
	opts Opts
	lock *os.File
	w    *sql.DB       // readings: one connection, committed without a flush of the disk
	f    *sql.DB       // everything else: one connection, flushed at each commit
	r    *sql.DB       // readers, who never wait for a writer
	turn chan struct{} // holds one token: whose turn it is to write

	opened os.FileInfo // the file as it was when it was opened

	mu    sync.Mutex // guards the fields below, and those of Readings that say so
	line  timeline
	stats Stats
}

// arrival is a reading on its way into the file.
type arrival struct {
	vessel  string
	channel Channel
	t, v    int64
}

// Stats says how storage is doing.
type Stats struct {
	Buffered int       // readings in memory, not yet committed
	Dropped  int       // readings given up because the buffer was full
	Refused  int       // readings that were no number, or had no vessel or channel
	Written  int       // readings committed since the start
	Commit   time.Time // the last commit of readings
	Failed   int       // commits in a row that failed; 0 when all is well
	Failure  error     // why the last one failed; nil when all is well

	Unstorable int   // journal entries that no disk can take, such as one without a time
	Unstored   error // why the last of them is one

	BadRows int    // reads of rows that went bad since the start
	BadRow  BadRow // the last
}

// Report says what Open found.
type Report = dbfile.Report

// Open opens the store at path and makes it if there is none. A damaged file
// is set aside under another name, what can be read of it is carried over,
// and the Report says so; the error is nil then. A second process gets a
// [dbfile.InUseError]. Open starts no goroutine: call [Store.Run].
func Open(ctx context.Context, path string, opts Opts) (*Store, Report, error) {
	opts = opts.filled()
	report := Report{Path: path}
	if opts.ReadOnly {
		s, err := openReader(ctx, path, opts)
		return s, report, err
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o750); err != nil {
		return nil, report, fmt.Errorf("store: %w", err)
	}
	held, err := dbfile.Lock(path)
	if err != nil {
		return nil, report, err
	}
	s := newStore(path, opts)
	s.file.lock = held
	if err := s.start(ctx, &report); err != nil {
		s.shut()
		return nil, report, fmt.Errorf("store %s: %w", path, dbfile.Full(err))
	}
	return s, report, nil
}

func newStore(path string, opts Opts) *Store {
	f := &file{path: path, opts: opts, turn: make(chan struct{}, 1)}
	f.turn <- struct{}{}
	r := &Readings{file: f, kick: make(chan struct{}, 1), names: map[name]int64{}, open: map[openKey]*page{}, blockMS: maxBlockMS}
	j, k := &Journal{file: f}, &States{file: f}
	return &Store{
		file: f, Readings: r, Journal: j, States: k,
		EventLog: &EventLog{file: f, readings: r, journal: j, kept: k},
		Copies:   &Copies{file: f, readings: r},
	}
}

// start checks the file, mends what it can and reads what the store keeps in
// memory.
func (s *Store) start(ctx context.Context, report *Report) error {
	err := dbfile.Private(s.file.path)
	if err != nil {
		return err
	}
	if *report, err = schema.Mend(ctx, s.file.path, s.file.opts.Backups); err != nil {
		return err
	}
	s.file.connect()
	if err := schema.Migrate(ctx, s.file.w, len(schema.Migrations)); err != nil {
		return err
	}
	if s.file.opened, err = os.Stat(s.file.path); err != nil {
		return err
	}
	if err := s.setBadRowsAside(ctx, report); err != nil {
		return err
	}
	if err := s.Readings.loadNames(ctx); err != nil {
		return err
	}
	if err := s.file.startClock(ctx, s.file.opts.Clock); err != nil {
		return err
	}
	if err := s.Readings.rebuild(ctx, !report.OK()); err != nil {
		return err
	}
	s.noteHead(ctx) // without it, damage costs more
	return nil
}

func (s *file) connect() {
	s.w = dbfile.Connect(s.path, 1, "journal_mode(WAL)", "synchronous(NORMAL)", "journal_size_limit(8388608)")
	s.f = dbfile.Connect(s.path, 1, "synchronous(FULL)")
	s.r = dbfile.Connect(s.path, 8, "query_only(1)")
}

// openReader opens the file for reading, beside a running daemon or alone.
func openReader(ctx context.Context, path string, opts Opts) (*Store, error) {
	if _, err := os.Stat(path); err != nil {
		return nil, fmt.Errorf("store: %w", err)
	}
	s := newStore(path, opts)
	s.file.r = dbfile.Connect(path, 4, "query_only(1)")
	var version int
	err := s.file.r.QueryRowContext(ctx, `PRAGMA user_version`).Scan(&version)
	if err == nil && version != len(schema.Migrations) {
		err = fmt.Errorf("has schema %d, this leavend knows %d; run the daemon once to bring it up to date", version, len(schema.Migrations))
	}
	if c := dbfile.Code(err); c == sqlite3.SQLITE_READONLY || c == sqlite3.SQLITE_CANTOPEN {
		// With a log beside it even a reader writes: to say how far it has read.
		err = fmt.Errorf("may not be opened by you, which takes the right to write beside it too; put sudo -u leavend in front, or sudo (%w)", err)
	}
	if err != nil {
		s.shut()
		return nil, fmt.Errorf("store %s: %w", path, err)
	}
	return s, nil
}

// Stats returns how storage is doing. It never blocks on the disk.
func (s *Store) Stats() Stats {
	s.file.mu.Lock()
	defer s.file.mu.Unlock()
	st := s.file.stats
	st.Buffered = len(s.Readings.buf)
	return st
}

// removed reports whether the file is no longer where it was opened. What was
// written to it since then would be lost with the process, so nothing is.
func (s *file) removed() bool {
	if s.opened == nil {
		return false
	}
	now, err := os.Stat(s.path)
	return errors.Is(err, os.ErrNotExist) || err == nil && !os.SameFile(s.opened, now)
}

// Removed reports whether the file is no longer where it was opened.
func (s *Store) Removed() bool { return s.file.removed() }

// Path returns the file's path.
func (s *Store) Path() string { return s.file.path }

// Close writes what is still in memory and closes the file. Run must have
// returned.
func (s *Store) Close() error {
	var err error
	if s.file.w != nil {
		ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
		defer cancel()
		err = s.Readings.Flush(ctx)
		s.file.w.ExecContext(ctx, `PRAGMA optimize`) // a hint to the planner; nothing depends on it
		s.noteHead(ctx)
	}
	s.shut()
	return err
}

// shut closes what is open. SQLite moves the log into the file as the last
// connection goes.
func (s *Store) shut() {
	for _, db := range []*sql.DB{s.file.r, s.file.f, s.file.w} {
		if db != nil {
			db.Close()
		}
	}
	if s.file.lock != nil {
		s.file.lock.Close()
	}
}

// take waits for the turn to write.
func (s *file) take(ctx context.Context) error {
	select {
	case <-s.turn:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

func (s *file) give() { s.turn <- struct{}{} }

// urgent runs fn in a transaction that is on the disk when urgent returns nil.
func (s *file) urgent(ctx context.Context, fn func(*sql.Tx) error) error {
	if s.opts.ReadOnly {
		return ErrReadOnly
	}
	if err := s.take(ctx); err != nil {
		return err
	}
	defer s.give()
	if s.removed() {
		return ErrRemoved
	}
	return dbfile.Within(ctx, s.f, fn)
}
