package config

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"
	"unicode/utf8"

	"leavend/cmd/leavend/internal/text"
)

// maxFile bounds the size of a configuration file; a kitchen needs a
// hundredth of it.
const maxFile = 1 << 20

// Load reads and checks a configuration file. If anything is wrong with its
// text, the error is an *Error that holds all of it.
func Load(path string) (*Config, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("config: %w", err)
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, maxFile+1))
	if err != nil {
		return nil, fmt.Errorf("config: read %s: %w", path, err)
	}
	c, err := Parse(data, path)
	if err != nil {
		return nil, err
	}
	if info, err := f.Stat(); err == nil {
		if a, other := writerOf(info); other {
			c.readAs(a)
		}
	}
	return c, nil
}

// Parse checks the text of a configuration file; path is what messages call
// it, and where relative paths in it start.
func Parse(data []byte, path string) (*Config, error) {
	if p, ok := unreadable(data); !ok {
		return nil, &Error{File: path, Problems: []Problem{p}}
	}
	root, problems, broken := parse(bytes.TrimPrefix(data, []byte("\ufeff")))
	r := newReader()
	r.broken = broken > 0
	if dir, err := filepath.Abs(filepath.Dir(path)); err == nil {
		r.dir = dir
	}
	c := r.config(root)
	c.File = path
	if problems = append(problems, r.problems...); len(problems) > 0 {
		return nil, &Error{File: path, Problems: inOrder(problems)}
	}
	c.Warnings = inOrder(r.warnings)
	return c, nil
}

// unreadable finds files that are no text at all.
func unreadable(data []byte) (Problem, bool) {
	switch {
	case len(data) > maxFile:
		return Problem{Say: text.Say("config.file_large", text.Size("most", maxFile))}, false
	case !utf8.Valid(data):
		good := 0
		for good < len(data) {
			_, n := utf8.DecodeRune(data[good:])
			if n == 1 && data[good] >= utf8.RuneSelf {
				break
			}
			good += n
		}
		line := 1 + bytes.Count(data[:good], []byte("\n"))
		return Problem{Line: line, Say: text.Say("config.file_bytes")}, false
	}
	return Problem{}, true
}

func newReader() *reader {
	return &reader{lines: map[string]int{}, known: map[string][]string{}, dir: "/"}
}

// rooted returns path as seen from the folder of the config file.
func (r *reader) rooted(path string) string {
	if filepath.IsAbs(path) {
		return filepath.Clean(path)
	}
	return filepath.Join(r.dir, path)
}

// config reads the whole file and then checks that its parts fit together.
func (r *reader) config(root *node) *Config {
	c := Default()
	top := &section{r: r, table: root}
	readTop(top, c)
	for _, s := range top.sections("sensor") {
		c.Sensors = append(c.Sensors, readSensor(s))
	}
	for _, s := range top.sections("i2c") {
		c.Buses = append(c.Buses, readBus(s))
	}
	for _, s := range top.sections("vessel") {
		c.Vessels = append(c.Vessels, readVessel(s))
	}
	readMat(top.section("mat"), &c.Mat)
	readMqtt(top.section("mqtt"), &c.MQTT)
	readWeb(top.section("web"), &c.Web)
	readMetrics(top.section("metrics"), &c.Metrics)
	readStore(top.section("store"), &c.Store)
	for _, s := range top.sections("notify") {
		c.Notify = append(c.Notify, readRecipient(s))
	}
	readReminders(top.section("reminders"), &c.Reminders)
	readPlan(top.section("plan"), &c.Plan, c.Timezone)
	top.done()
	if c.Store.File == "" {
		c.Store.File = filepath.Join(c.DataDir, "leavend.db")
	}
	switch c.Store.BackupDir {
	case "":
		c.Store.BackupDir = filepath.Join(filepath.Dir(c.Store.File), "backups")
	case noBackup:
		c.Store.BackupDir = ""
	}
	(&consistency{r, c}).check()
	return c
}

func readTop(s *section, c *Config) {
	s.file("data_dir", &c.DataDir)
	word(s, "units", &c.Units, Metric, US)
	word(s, "language", &c.Language, text.Languages()...)
	s.whole("clock", &c.Clock, 12, 24)
	if c.Clock != 12 && c.Clock != 24 {
		s.wrong("clock", "config.clock", text.Number("given", float64(c.Clock)))
	}
	zone := ""
	s.text("timezone", &zone)
	if zone != "" {
		loc, err := time.LoadLocation(zone)
		if err != nil {
			s.wrong("timezone", "config.timezone", text.Name("given", zone))
		} else {
			c.Timezone = loc
		}
	}
	level := "info"
	word(s, "log_level", &level, "debug", "info", "warn", "error")
	// The words above are all that UnmarshalText is given, so it cannot fail.
	_ = c.LogLevel.UnmarshalText([]byte(level))
}

// noBackup is what store.backup_dir says where no backup is wanted.
const noBackup = "off"

func readStore(s *section, st *Store) {
	s.file("file", &st.File)
	s.whole("full_rate_days", &st.FullRateDays, 1, 3650)
	s.span("sync_every", &st.SyncEvery, 10*time.Second, 10*time.Minute)
	s.file("backup_dir", &st.BackupDir)
	st.BackupWhole = st.BackupDir != ""
	if filepath.Base(st.BackupDir) == noBackup {
		st.BackupDir, st.BackupWhole = noBackup, false
	}
	s.whole("backups_kept", &st.BackupsKept, 1, 400)
	s.done()
}

func readReminders(s *section, m *Reminders) {
	const day = 24 * time.Hour
	s.span("feed_every", &m.FeedEvery, 0, 14*day)
	s.span("fridge_feed_every", &m.FridgeFeedEvery, 0, 60*day)
	s.span("discard_keeps", &m.DiscardKeeps, 0, 60*day)
	s.whole("clean_jar_feeds", &m.CleanJarFeeds, 0, 100)
	s.done()
}

// schema returns the keys that each section may have, found by reading a file
// that has one of everything.
func schema() map[string][]string {
	all := newTable(1)
	sensors := &node{shape: isTables, line: 1}
	for _, chip := range Chips() {
		s := newTable(1)
		s.add("chip", &node{shape: isText, line: 1, text: string(chip)})
		sensors.items = append(sensors.items, s)
	}
	all.add("sensor", sensors)
	for _, name := range []string{"i2c", "vessel", "notify"} {
		all.add(name, &node{shape: isTables, line: 1, items: []*node{newTable(1)}})
	}
	mat := newTable(1)
	mat.add("schedule", &node{shape: isTables, line: 1, items: []*node{newTable(1)}})
	all.add("mat", mat)
	all.add("plan", onePlan())
	r := newReader()
	r.config(all)
	return r.known
}

// schema is schema, asked once a file.
func (r *reader) schema() map[string][]string {
	if r.keys == nil {
		r.keys = schema()
	}
	return r.keys
}
