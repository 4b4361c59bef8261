package recording

import (
	"bytes"
	"encoding/csv"
	"errors"
	"io"
	"math"
	"slices"
	"strconv"
	"testing"
	"time"
)

// FuzzParseTime holds the short path to the standard library: what one takes
// for a time the other does too, and for the same one.
func FuzzParseTime(f *testing.F) {
	for _, s := range []string{
		"2027-01-02T07:25:49Z", "1985-04-12T23:20:50.52Z", "1996-12-19T16:39:57-08:00", // RFC 3339 section 5.8
		"1937-01-01T12:00:27.87+00:20", "1990-12-31T23:59:60Z", "0000-02-29T00:00:00Z",
		"1900-02-29T00:00:00Z", "2000-02-29T00:00:00.123456789Z", "9999-12-31T23:59:59.9999999999+23:59",
		"2027-01-02t07:25:49z", "2027-01-02T07:25:49,5Z", "2027-01-02T07:25:49.Z", "2027-01-02T24:00:00Z",
	} {
		f.Add([]byte(s))
	}
	zone := func(offset int) *time.Location { return time.FixedZone("", offset) }
	f.Fuzz(func(t *testing.T, b []byte) {
		got, ok := parseTime(b, zone)
		want, err := time.Parse(time.RFC3339, string(b))
		if ok != (err == nil) {
			t.Fatalf("%q: ok %v, time.Parse says %v", b, ok, err)
		}
		_, gotOffset := got.Zone()
		_, wantOffset := want.Zone()
		if ok && (!got.Equal(want) || gotOffset != wantOffset) {
			t.Fatalf("%q: got %v, want %v", b, got, want)
		}
	})
}

// TestEveryDay compares the calendar with the standard library's over two
// turns of the 400-year cycle.
func TestEveryDay(t *testing.T) {
	for at := time.Date(0, 1, 1, 1, 2, 3, 0, time.UTC); at.Year() < 801; at = at.AddDate(0, 0, 1) {
		b := at.AppendFormat(nil, time.RFC3339)
		sec, _, _, ok := fastTime(b)
		if !ok || sec != at.Unix() {
			t.Fatalf("%s: got %d %v, want %d", b, sec, ok, at.Unix())
		}
	}
}

// FuzzParseNumber holds the short path to strconv, bit for bit.
func FuzzParseNumber(f *testing.F) {
	for _, s := range []string{"139", "26.94", "-0.0625", "+1", ".5", "5.", "1e3", "0.1234567890123456", "inf", "nan", "0x1p-2", "1_0", "", "-", ".", "1e999", "--1"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		got, ok := parseNumber(b)
		want, err := strconv.ParseFloat(string(b), 64)
		word := err == nil && (math.IsInf(want, 0) || math.IsNaN(want) || bytes.ContainsAny(b, "xX_"))
		if wantOK := err == nil && !word; ok != wantOK {
			t.Fatalf("%q: ok %v, strconv says %v", b, ok, err)
		}
		if ok && math.Float64bits(got) != math.Float64bits(want) {
			t.Fatalf("%q: got %v, want %v", b, got, want)
		}
	})
}

// FuzzScanner compares the cells with those of encoding/csv wherever that
// package reads the whole file; elsewhere the scanner must only come to an end.
func FuzzScanner(f *testing.F) {
	for _, s := range []string{"a,b\r\nc,d\r\n", "a,\"b\nb\",c\n", "\"\"\"a\"\"\",b\n", ",\n,,\n", "a,\"\"", "\"a\"b,c\nd,e\n", "\"open\nx,y\n", "a,b\",\n", "\r\n\r\r\n", "a,", "\"a\","} {
		f.Add([]byte(s), false)
		f.Add(bytes.ReplaceAll([]byte(s), []byte(","), []byte(";")), true)
	}
	f.Add([]byte("\"time\";\"note\"\n1;\"a;b,c\"\n"), true)
	f.Fuzz(func(t *testing.T, b []byte, semicolons bool) {
		sep := byte(',')
		if semicolons {
			sep = ';'
		}
		rows, clean := scanAll(t, b, sep)
		// encoding/csv turns CRLF inside quotes into LF; leave such files out.
		ref := csv.NewReader(bytes.NewReader(b))
		ref.Comma = rune(sep)
		ref.FieldsPerRecord = -1
		want, err := ref.ReadAll()
		if err != nil || bytes.IndexByte(b, '\r') >= 0 {
			return
		}
		if !clean || !slices.EqualFunc(rows, want, slices.Equal) {
			t.Fatalf("%q: got %q (clean %v), want %q", b, rows, clean, want)
		}
	})
}

func scanAll(t *testing.T, b []byte, sep byte) (rows [][]string, clean bool) {
	s, clean := newScanner(bytes.NewReader(b)), true
	s.sep = sep
	for range len(b) + 2 {
		cells, _, err := s.row()
		switch {
		case err == io.EOF:
			return rows, clean
		case errors.Is(err, errQuote) || errors.Is(err, errTooLong):
			clean = false
			continue
		case err != nil:
			t.Fatal(err)
		}
		var row []string
		for _, c := range cells {
			row = append(row, string(c))
		}
		rows = append(rows, row)
	}
	t.Fatalf("%q: no end", b)
	return nil, false
}
