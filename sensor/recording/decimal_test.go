package recording_test

import (
	"errors"
	"io"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"leavend/sensor/recording"
)

// TestSpreadsheet reads what spreadsheets of different countries make of a
// recording: a byte order mark, CRLF, semicolons or tabs, decimal commas
// (common practice, from memory; CSV has no standard for them).
func TestSpreadsheet(t *testing.T) {
	at := func(s int) time.Time { return time.Date(2027, 1, 2, 7, 25, s, 0, time.UTC) }
	row := func(line int, mm, c float64, note string) recording.Row {
		return recording.Row{At: at(line), DistanceMM: mm, TempC: c, Note: note, Line: line}
	}
	const head = "time;distance_mm;temperature_c;note\n"
	when := func(line int) string { return at(line).Format(time.RFC3339) }
	const doubt = " may have decimals or grouped thousands, and the other numbers of the file do not tell which; write it as "
	tests := []struct {
		name, in string
		want     []recording.Row
		bad      []string
	}{
		{"semicolons and decimal commas", head + when(2) + ";139,25;26,94;fed\n" + when(3) + ";-0,5;+1e1;\n",
			[]recording.Row{row(2, 139.25, 26.94, "fed"), row(3, -0.5, 10, "")}, nil},
		{"with a byte order mark, CRLF and quotes everywhere",
			"\uFEFF\"time\";\"distance_mm\";\"temperature_c\";\"note\"\r\n\"" + when(2) + "\";\"139,5\";\"26,94\";\"a; b, c\"\r\n",
			[]recording.Row{row(2, 139.5, 26.94, "a; b, c")}, nil},
		{"a byte order mark and quotes between commas",
			"\uFEFF\"time\",\"distance_mm\",\"temperature_c\",\"note\"\r\n" + when(2) + ",139.5,26.94,\r\n",
			[]recording.Row{row(2, 139.5, 26.94, "")}, nil},
		{"empty lines before the header", "\uFEFF\r\n\n" + head + when(4) + ";1,5;2;\n", []recording.Row{row(4, 1.5, 2, "")}, nil},
		{"tabs", strings.ReplaceAll(head, ";", "\t") + when(2) + "\t139,25\t26.9\tfed\n", []recording.Row{row(2, 139.25, 26.9, "fed")}, nil},
		{"semicolons and decimal points", head + when(2) + ";139.25;26.94;\n" + when(3) + ";139.125;26.5;\n",
			[]recording.Row{row(2, 139.25, 26.94, ""), row(3, 139.125, 26.5, "")}, nil},
		{"three decimals, and a later row that shows what they are", head + when(2) + ";139,125;26;\n" + when(3) + ";139,25;26,5;\n",
			[]recording.Row{row(2, 139.125, 26, ""), row(3, 139.25, 26.5, "")}, nil},
		{"three decimals that cannot be thousands", head + when(2) + ";0,125;26;\n" + when(3) + ";1390,125;26,125;\n",
			[]recording.Row{row(2, 0.125, 26, ""), row(3, 1390.125, 26.125, "")}, nil},
		{"three decimals or thousands, and nothing tells", head + when(2) + ";1,234;26;\n" + when(3) + ";139;1.234;\n" + when(4) + ";139;26;\n",
			[]recording.Row{row(4, 139, 26, "")},
			[]string{`line 2: distance_mm: "1,234"` + doubt + "1,2340, or as 1234", `line 3: temperature_c: "1.234"` + doubt + "1.2340, or as 1234"}},
		{"the other mark is the decimal one", head + when(2) + ";1.234;26,5;\n",
			nil, []string{`line 2: distance_mm: "1.234"` + doubt + "1.2340, or as 1234"}},
		{"both marks were decimal ones, so neither tells", head + when(2) + ";139,25;26.5;\n" + when(3) + ";1,234;26;\n",
			[]recording.Row{row(2, 139.25, 26.5, "")}, []string{`line 3: distance_mm: "1,234"` + doubt + "1,2340, or as 1234"}},
		{"grouped thousands are refused", head + when(2) + ";1.234,5;26;\n" + when(3) + ";1.234.567;26;\n" + when(4) + ";1 234;26;\n" + when(5) + ";12,5 mm;26;\n",
			nil, []string{
				`line 2: distance_mm: "1.234,5" has more than one mark; write it without grouped thousands`,
				`line 3: distance_mm: "1.234.567" has more than one mark; write it without grouped thousands`,
				`line 4: distance_mm: "1 234" is no decimal number`, `line 5: distance_mm: "12,5 mm" is no decimal number`}},
		{"what is no number tells no mark", head + when(2) + ";1,234;26;\n" + when(3) + ";12,5mm;26;\n", nil,
			[]string{`line 2: distance_mm: "1,234"` + doubt + "1,2340, or as 1234", `line 3: distance_mm: "12,5mm" is no decimal number`}},
		{"decimal commas between commas", header + when(2) + ",139,5,26,94,fed\n" + when(3) + ",139,5,26\n" + when(4) + ",,-1,5\n" + when(5) + ",139,26,5 g\n",
			[]recording.Row{row(5, 139, 26, "5 g")},
			[]string{
				"line 2: the row has 6 cells, the header has 4; if it has decimal commas, write the file with semicolons between the cells, or with decimal points",
				`line 3: note: "26" is a bare number, as where decimal commas cut the numbers before it in two; write the file with semicolons between the cells, or with decimal points`,
				`line 4: note: "5" is a bare number, as where decimal commas cut the numbers before it in two; write the file with semicolons between the cells, or with decimal points`}},
		{"as RFC 4180 has it, three decimals are decimals", header + when(2) + ",1.234,26,\n", []recording.Row{row(2, 1.234, 26, "")}, nil},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			for name, src := range map[string]io.Reader{"whole": strings.NewReader(tt.in), "byte-wise": iotest.OneByteReader(strings.NewReader(tt.in))} {
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

// TestMarkShowsFarBelow has a long file tell its decimal mark beyond what is
// looked at ahead: the doubtful rows above stay refused, those below are read.
func TestMarkShowsFarBelow(t *testing.T) {
	var file strings.Builder
	file.WriteString("time;distance_mm;temperature_c;note\n")
	at := time.Date(2027, 1, 1, 0, 0, 0, 0, time.UTC)
	const rows = 20_000 // some 700 kB
	for i := range rows {
		cell := "139,125"
		if i == rows-2 {
			cell = "139,25"
		}
		file.WriteString(at.Add(time.Duration(i)*time.Second).Format(time.RFC3339) + ";" + cell + ";26;\n")
	}
	good, bad := readAll(t, strings.NewReader(file.String()))
	if len(good) != 2 || len(bad) != rows-2 || good[1].DistanceMM != 139.125 {
		t.Errorf("%d rows read and %d refused, want 2 and %d; the last: %+v", len(good), len(bad), rows-2, good)
	}
}

// FuzzDecimal puts two numbers into a file with semicolons. What is read of
// them must be what they say with a decimal mark, by the standard library; and
// one that could be grouped thousands is read only where the other shows the
// same mark.
func FuzzDecimal(f *testing.F) {
	for _, s := range [][2]string{{"139,25", "26,94"}, {"1,234", "26"}, {"1.234", "26,5"}, {"1,234", "0,125"}, {"1.234,5", "2"}, {"-1,234", "+26.5"},
		{"1,5e3", "1,234e0"}, {",5", "5,"}, {"١,٢", "1"}, {"1,,2", "1"}, {"\"1,5\"", "2"}, {"", "1,234"}} {
		f.Add(s[0], s[1])
	}
	doubtful := regexp.MustCompile(`^[+-]*[1-9][0-9]{0,2}[.,][0-9]{3}$`)
	shows := func(cell string, mark string) bool {
		_, err := strconv.ParseFloat(strings.Replace(cell, ",", ".", 1), 64)
		return err == nil && strings.Contains(cell, mark) && !doubtful.MatchString(cell)
	}
	f.Fuzz(func(t *testing.T, a, b string) {
		if strings.ContainsAny(a+b, ";\"\r\n") {
			return
		}
		r, err := recording.NewReader(strings.NewReader("time;distance_mm;temperature_c;note\n2027-01-02T07:25:49Z;" + a + ";" + b + ";\n"))
		if err != nil {
			t.Fatal(err)
		}
		row, err := r.Next()
		var bad *recording.RowError
		if errors.As(err, &bad) {
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range []struct {
			cell, other string
			got         float64
		}{{a, b, row.DistanceMM}, {b, a, row.TempC}} {
			want := math.NaN()
			if c.cell != "" {
				if want, err = strconv.ParseFloat(strings.Replace(c.cell, ",", ".", 1), 64); err != nil {
					t.Fatalf("%q was read as %v", c.cell, c.got)
				}
			}
			if c.got != want && !(math.IsNaN(c.got) && math.IsNaN(want)) {
				t.Fatalf("%q was read as %v, want %v", c.cell, c.got, want)
			}
			if doubtful.MatchString(c.cell) {
				mark := string(c.cell[strings.IndexAny(c.cell, ".,")])
				if !shows(c.other, mark) {
					t.Fatalf("%q was read as %v beside %q, which does not tell", c.cell, c.got, c.other)
				}
			}
		}
	})
}
