package sim

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// setEntry is the truth of one recording as SaveSet writes it.
type setEntry struct {
	Name   string    `json:"name"` // of the file, without .csv
	Case   string    `json:"case"`
	Family string    `json:"family"`
	Seed   uint64    `json:"seed"`
	Start  time.Time `json:"start"`
	Hours  float64   `json:"hours"`
	Peaked bool      `json:"peaked"` // any feed
	Feeds  []setFeed `json:"feeds"`
	Events []string  `json:"events,omitempty"`
}

// setFeed is the truth of one feed. at_h counts from the start, the others
// from the feed, all by the recording's own clock.
type setFeed struct {
	AtH      float64  `json:"at_h"`
	Marked   bool     `json:"marked"`
	Peaked   bool     `json:"peaked"`
	PeakH    float64  `json:"peak_h"`
	LoH      float64  `json:"lo_h"`
	HiH      float64  `json:"hi_h"`
	RiseMM   float64  `json:"rise_mm"`
	StartMM  float64  `json:"h0_mm"`
	Ratio    float64  `json:"ratio"`
	FellMM   float64  `json:"fell_mm"`
	DoubledH *float64 `json:"doubled_h"` // null if it never doubled
	MeanC    float64  `json:"mean_c"`
	Abrupt   bool     `json:"abrupt"`
}

// SaveSet writes recordings as CSV files into a folder, and their truth beside
// them as truth.json, so that a detector outside this program can be scored.
// File names are the recordings' names with dashes for what no file name bears.
func SaveSet(dir string, set []*Recording) error {
	entries := make([]setEntry, 0, len(set))
	for _, r := range set {
		e := r.entry()
		entries = append(entries, e)
		if err := r.save(filepath.Join(dir, e.Name+".csv")); err != nil {
			return fmt.Errorf("kitchen: save %s: %w", e.Name, err)
		}
	}
	b, err := json.MarshalIndent(entries, "", " ")
	if err != nil {
		return fmt.Errorf("kitchen: truth: %w", err)
	}
	return os.WriteFile(filepath.Join(dir, "truth.json"), append(b, '\n'), 0o644)
}

func (r *Recording) save(path string) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	if err := r.WriteCSV(f); err != nil {
		f.Close()
		return err
	}
	return f.Close()
}

// entry is the recording's truth in the form of the set.
func (r *Recording) entry() setEntry {
	t := &r.Truth
	e := setEntry{
		Name: fileName(r.Name), Case: t.Case, Family: t.Family, Seed: t.Seed, Start: t.Start,
		Hours: (time.Duration(len(t.HeightMM)-1) * t.Every).Hours(), Peaked: t.Peaked(),
	}
	for i := range t.Feeds {
		e.Feeds = append(e.Feeds, t.Feeds[i].entry(t.Start))
	}
	for _, d := range t.Disturbances {
		e.Events = append(e.Events, d.Event.String())
	}
	return e
}

func (f *FeedTruth) entry(start time.Time) setFeed {
	since := func(t time.Time) float64 { return t.Sub(f.Fed).Hours() }
	s := setFeed{
		AtH: f.Fed.Sub(start).Hours(), Marked: f.Marked, Peaked: f.Peaked,
		PeakH: since(f.Top), LoH: since(f.Lo), HiH: since(f.Hi),
		RiseMM: f.RiseMM, StartMM: f.StartMM, Ratio: f.Ratio, FellMM: f.FellMM, MeanC: f.MeanC, Abrupt: f.Abrupt,
	}
	if !f.Doubled.IsZero() {
		h := since(f.Doubled)
		s.DoubledH = &h
	}
	return s
}

// fileName keeps letters, digits and dots of a name.
func fileName(name string) string {
	return strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '.' {
			return r
		}
		return '-'
	}, name)
}
