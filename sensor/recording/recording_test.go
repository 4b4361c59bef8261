package recording_test

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"leavend/sensor/recording"
)

const header = "time,distance_mm,temperature_c,note\n"

// readAll returns the good rows of a recording and the errors of the bad ones.
func readAll(t testing.TB, r io.Reader) (rows []recording.Row, bad []string) {
	t.Helper()
	rd, err := recording.NewReader(r)
	if err != nil {
		t.Fatal(err)
	}
	for {
		row, err := rd.Next()
		if err == io.EOF {
			return rows, bad
		}
		var rowErr *recording.RowError
		switch {
		case errors.As(err, &rowErr):
			bad = append(bad, rowErr.Error())
		case err != nil:
			t.Fatal(err)
		default:
			rows = append(rows, row)
		}
	}
}

func TestReader(t *testing.T) {
	at := func(s string) time.Time {
		v, err := time.Parse(time.RFC3339, s)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	nan := math.NaN()
	tests := []struct {
		name, in string
		want     []recording.Row
		bad      []string
	}{
		{"the plain shape", header + "2027-01-02T07:25:49Z,139,26.94,fed\n2027-01-02T07:26:04Z,138,26.81,\n",
			[]recording.Row{
				{At: at("2027-01-02T07:25:49Z"), DistanceMM: 139, TempC: 26.94, Note: "fed", Line: 2},
				{At: at("2027-01-02T07:26:04Z"), DistanceMM: 138, TempC: 26.81, Line: 3},
			}, nil},
		{"byte order mark, CRLF and no last line break",
			"\uFEFFtime,distance_mm,temperature_c,note\r\n2027-01-02T07:25:49Z,139,26.94,fed",
			[]recording.Row{{At: at("2027-01-02T07:25:49Z"), DistanceMM: 139, TempC: 26.94, Note: "fed", Line: 2}}, nil},
		{"empty cells are readings that did not come", header + "2027-01-02T07:25:49+01:00,,,\n",
			[]recording.Row{{At: at("2027-01-02T07:25:49+01:00"), DistanceMM: nan, TempC: nan, Line: 2}}, nil},
		{"quoted cells as RFC 4180 section 2 allows them",
			header + "\"2027-01-02T07:25:49Z\",\"139\",26.9,\"two\r\nlines, a comma and \"\"quotes\"\"\"\n2027-01-02T07:26:04Z,1,2,\n",
			[]recording.Row{
				{At: at("2027-01-02T07:25:49Z"), DistanceMM: 139, TempC: 26.9, Note: "two\r\nlines, a comma and \"quotes\"", Line: 2},
				{At: at("2027-01-02T07:26:04Z"), DistanceMM: 1, TempC: 2, Line: 4},
			}, nil},
		{"further columns are ignored, the mat is not",
			"note,mat,time,signal,temperature_c,distance_mm\n,on,2027-01-02T07:25:49Z,x,20.5,90\n,off,2027-01-02T07:25:50Z,,20.5,90\n,,2027-01-02T07:25:51Z,,20.5,90\n",
			[]recording.Row{
				{At: at("2027-01-02T07:25:49Z"), DistanceMM: 90, TempC: 20.5, Mat: recording.On, Line: 2},
				{At: at("2027-01-02T07:25:50Z"), DistanceMM: 90, TempC: 20.5, Mat: recording.Off, Line: 3},
				{At: at("2027-01-02T07:25:51Z"), DistanceMM: 90, TempC: 20.5, Line: 4},
			}, nil},
		{"a row back in time is marked", header + "2027-01-02T07:25:49Z,1,2,\n2027-01-02T07:25:48Z,1,2,\n2027-01-02T07:25:48Z,1,2,\n",
			[]recording.Row{
				{At: at("2027-01-02T07:25:49Z"), DistanceMM: 1, TempC: 2, Line: 2},
				{At: at("2027-01-02T07:25:48Z"), DistanceMM: 1, TempC: 2, Line: 3, OutOfOrder: true},
				{At: at("2027-01-02T07:25:48Z"), DistanceMM: 1, TempC: 2, Line: 4},
			}, nil},
		{"bad rows are named and skipped",
			header + "yesterday,1,2,\n2027-01-02T07:25:49Z,near,2,\n2027-01-02T07:25:49Z,1,NaN,\n2027-01-02T07:25:49Z,1\n" +
				"2027-01-02T07:25:49Z,1,\"2,5\",\n2027-01-02T07:25:49Z,1,2,\xff\n\n2027-01-02T07:25:49Z,1,2,\n",
			[]recording.Row{{At: at("2027-01-02T07:25:49Z"), DistanceMM: 1, TempC: 2, Line: 9}},
			[]string{
				`line 2: time: "yesterday" is no RFC 3339 time such as 2027-01-02T07:25:49Z`,
				`line 3: distance_mm: "near" is no decimal number`,
				`line 4: temperature_c: "NaN" is no decimal number`,
				`line 5: the row has 2 cells, the header has 4`,
				`line 6: temperature_c: "2,5" is no decimal number`,
				`line 7: note: "\xff" is not UTF-8`,
			}},
		{"a lost closing quote costs one row",
			header + "2027-01-02T07:25:49Z,1,2,\"oops\n2027-01-02T07:25:50Z,1,2,\n2027-01-02T07:25:51Z,1,2,\"fed\"\n",
			[]recording.Row{
				{At: at("2027-01-02T07:25:50Z"), DistanceMM: 1, TempC: 2, Line: 3},
				{At: at("2027-01-02T07:25:51Z"), DistanceMM: 1, TempC: 2, Note: "fed", Line: 4},
			},
			[]string{"line 2: the row has a quoted cell without its closing quote, or text behind one"}},
		{"zero bytes after a loss of power", header + "\x00\x00\x00\x00\n2027-01-02T07:25:51Z,1,2,\n",
			[]recording.Row{{At: at("2027-01-02T07:25:51Z"), DistanceMM: 1, TempC: 2, Line: 3}},
			[]string{"line 2: the row holds zero bytes, as after a loss of power"}},
		{"a line without end", header + strings.Repeat("9", 1<<20) + "\n2027-01-02T07:25:51Z,1,2,\n",
			[]recording.Row{{At: at("2027-01-02T07:25:51Z"), DistanceMM: 1, TempC: 2, Line: 3}},
			[]string{"line 2: the row is longer than 64 KiB; the row is skipped"}},
		{"a line without end behind an open quote", header + "\"oops\n" + strings.Repeat("9", 1<<20) + "\n2027-01-02T07:25:51Z,1,2,\n",
			[]recording.Row{{At: at("2027-01-02T07:25:51Z"), DistanceMM: 1, TempC: 2, Line: 4}},
			[]string{
				"line 2: the row has a quoted cell without its closing quote, or text behind one",
				"line 3: the row is longer than 64 KiB; the row is skipped",
			}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			for name, src := range map[string]io.Reader{
				"whole":      strings.NewReader(tt.in),
				"byte-wise":  iotest.OneByteReader(strings.NewReader(tt.in)),
				"data+error": iotest.DataErrReader(strings.NewReader(tt.in)),
			} {
				rows, bad := readAll(t, src)
				if diff := cmp.Diff(rows, tt.want, cmpopts.EquateNaNs()); diff != "" {
					t.Errorf("%s: rows (-got +want)\n%s", name, diff)
				}
				if diff := cmp.Diff(bad, tt.bad); diff != "" {
					t.Errorf("%s: bad rows (-got +want)\n%s", name, diff)
				}
			}
		})
	}
}

func TestNoRecording(t *testing.T) {
	tests := []struct{ name, in, want string }{
		{"an empty file", "", "no recording: the file is empty"},
		{"another table", "date,price\n1,2\n", `no recording: the header has no column "time"; it must start with time,distance_mm,temperature_c,note`},
		{"no temperature", "time,distance_mm,note\n", `no recording: the header has no column "temperature_c"; it must start with time,distance_mm,temperature_c,note`},
		{"semicolons, no temperature", "time;distance_mm;note\n", `no recording: the header has no column "temperature_c"; it must start with time,distance_mm,temperature_c,note`},
		{"semicolons and commas", "time;distance_mm,temperature_c;note\n", `no recording: the header has no column "distance_mm"; it must start with time,distance_mm,temperature_c,note`},
		{"UTF-16", "\xff\xfet\x00i\x00", `no recording: the header has no column "time"; the file is UTF-16, save it as UTF-8`},
		{"a column twice", "time,distance_mm,temperature_c,time\n", `no recording: the header names "time" twice`},
		{"a picture", "\x89PNG\r\n\x1a\n" + strings.Repeat("\x00", 1<<18), `no recording: the header has no column "time"; it must start with time,distance_mm,temperature_c,note`},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, err := recording.NewReader(strings.NewReader(tt.in))
			if err == nil || err.Error() != tt.want {
				t.Errorf("got %v, want %s", err, tt.want)
			}
		})
	}
}

// TestReadFault makes sure that a disk that fails is not taken for the end.
func TestReadFault(t *testing.T) {
	cause := errors.New("input/output error")
	src := io.MultiReader(strings.NewReader(header+"2027-01-02T07:25:49Z,1,2,\n2027-01-02T07:2"), iotest.ErrReader(cause))
	rd, err := recording.NewReader(src)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := rd.Next(); err != nil {
		t.Fatalf("the whole row: %v", err)
	}
	for range 2 {
		if _, err := rd.Next(); err != cause {
			t.Fatalf("the torn row: got %v, want %v", err, cause)
		}
	}
}

func TestWriterRoundTrip(t *testing.T) {
	at := time.Date(2027, 3, 1, 6, 30, 0, 250e6, time.FixedZone("", 3600))
	want := []recording.Row{
		{At: at, DistanceMM: 139.25, TempC: 25.0625, Note: recording.Fed, Mat: recording.On, Line: 2},
		{At: at.Add(time.Second), DistanceMM: math.NaN(), TempC: -0.5, Note: "a \"big\" one,\nlid off", Mat: recording.Off, Line: 3},
		{At: at.Add(2 * time.Second), DistanceMM: 1e5, TempC: math.NaN(), Line: 5},
	}
	var file bytes.Buffer
	w, err := recording.NewWriter(&file, recording.WriterOpts{Mat: true, Raw: []string{"range_status"}})
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range want {
		if err := w.Write(row, "4, phase"); err != nil {
			t.Fatal(err)
		}
	}
	rows, bad := readAll(t, bytes.NewReader(file.Bytes()))
	if len(bad) > 0 {
		t.Errorf("bad rows: %q", bad)
	}
	if diff := cmp.Diff(rows, want, cmpopts.EquateNaNs(), cmpopts.EquateApproxTime(0)); diff != "" {
		t.Errorf("rows (-got +want)\n%s", diff)
	}
	// A table reader of the standard library must see the same rectangle.
	table, err := csv.NewReader(&file).ReadAll()
	if err != nil || len(table) != 4 || len(table[3]) != 6 {
		t.Errorf("encoding/csv sees %q, %v", table, err)
	}
	if err := w.Write(want[0]); err == nil {
		t.Error("a row without its raw cell was written")
	}
}

// TestWriterWritesWholeRows counts the writes: one a row, so that a row is on
// its way to the disk once Write returns.
func TestWriterWritesWholeRows(t *testing.T) {
	var lines []string
	w, err := recording.NewWriter(writerFunc(func(b []byte) { lines = append(lines, string(b)) }), recording.WriterOpts{})
	if err != nil {
		t.Fatal(err)
	}
	row := recording.Empty(time.Date(2027, 3, 1, 6, 30, 0, 0, time.UTC))
	row.DistanceMM = 100.0 / 3
	if err := w.Write(row); err != nil {
		t.Fatal(err)
	}
	want := []string{header, "2027-03-01T06:30:00Z,33.3333,,\n"}
	if diff := cmp.Diff(lines, want); diff != "" {
		t.Errorf("writes (-got +want)\n%s", diff)
	}
}

type writerFunc func([]byte)

func (f writerFunc) Write(b []byte) (int, error) { f(b); return len(b), nil }

// year returns rows of a recording, one every ten seconds.
func year(rows int) []byte {
	var b bytes.Buffer
	b.WriteString(header)
	at := time.Date(2027, 1, 1, 0, 0, 0, 0, time.UTC)
	for i := range rows {
		fmt.Fprintf(&b, "%s,%d,%.2f,\n", at.Format(time.RFC3339), 80+i%70, 20+float64(i%997)/100)
		at = at.Add(10 * time.Second)
	}
	return b.Bytes()
}

func count(t testing.TB, file []byte) (rows, bad int) {
	rd, err := recording.NewReader(bytes.NewReader(file))
	if err != nil {
		t.Fatal(err)
	}
	for {
		_, err := rd.Next()
		switch {
		case err == io.EOF:
			return rows, bad
		case err != nil:
			bad++
		default:
			rows++
		}
	}
}

func BenchmarkReaderYear(b *testing.B) {
	const rows = 3_153_600 // one every ten seconds for a year
	file := year(rows)
	b.SetBytes(int64(len(file)))
	b.ReportAllocs()
	for b.Loop() {
		if n, bad := count(b, file); n != rows || bad != 0 {
			b.Fatal(n, bad)
		}
	}
}

func ExampleReader() {
	file := strings.NewReader("time,distance_mm,temperature_c,note\n" +
		"2027-01-02T07:25:49Z,139,26.94,fed\n" +
		"2027-01-02T07:26:04Z,far,26.81,\n" +
		"2027-01-02T07:26:19Z,138,,\n")
	r, err := recording.NewReader(file)
	if err != nil {
		fmt.Println(err)
		return
	}
	for {
		row, err := r.Next()
		if err == io.EOF {
			return
		}
		var bad *recording.RowError
		if errors.As(err, &bad) {
			fmt.Println(bad)
			continue
		}
		fmt.Println(row.At.Format(time.TimeOnly), row.DistanceMM, row.TempC, row.Note)
	}
	// Output:
	// 07:25:49 139 26.94 fed
	// line 3: distance_mm: "far" is no decimal number
	// 07:26:19 138 NaN
}
