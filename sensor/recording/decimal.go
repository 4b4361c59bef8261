package recording

import (
	"fmt"
	"strings"
)

// A spreadsheet in much of Europe writes a table with semicolons between the
// cells and a comma in front of the decimals. Which character separates the
// cells is read from the header. The decimal mark is not guessed: most numbers
// show by themselves that their one mark is a decimal one, and those that could
// as well be grouped thousands ("1,234") are taken only when others in the file
// show the same mark and none the other.

// separators are what may stand between cells, that of RFC 4180 first.
var separators = [...]string{",", ";", "\t"}

// separatorOf finds what separates the cells of a header.
func separatorOf(header string) string {
	for _, sep := range separators {
		for cell := range strings.SplitSeq(header, sep) {
			if strings.Trim(cell, "\" \r") == "time" && strings.Contains(header, sep) {
				return sep
			}
		}
	}
	return separators[0]
}

// marks says which decimal marks a file has shown.
type marks struct{ point, comma bool }

// only reports whether a file showed this decimal mark and not the other.
func (m marks) only(mark byte) bool {
	if mark == ',' {
		return m.comma && !m.point
	}
	return m.point && !m.comma
}

// note remembers what a number shows.
func (m *marks) note(mark byte, sure bool) {
	m.point = m.point || sure && mark == '.'
	m.comma = m.comma || sure && mark == ','
}

// markOf returns the mark in a number, 0 where it has none, and whether it can
// only be a decimal one. It is not ok where marks group the thousands.
func markOf(cell string) (mark byte, sure, ok bool) {
	at := strings.IndexAny(cell, ".,")
	if at < 0 {
		return 0, false, true
	}
	if strings.ContainsAny(cell[at+1:], ".,") {
		return 0, false, false
	}
	whole, rest := strings.TrimLeft(cell[:at], "+-"), cell[at+1:]
	grouped := len(rest) == 3 && allDigits(rest) && len(whole) >= 1 && len(whole) <= 3 && whole[0] != '0' && allDigits(whole)
	return cell[at], !grouped, true
}

// allDigits reports whether there is nothing but digits.
func allDigits(s string) bool { return strings.Trim(s, "0123456789") == "" }

// decimal reads a number of a file without commas between its cells. why says
// what is wrong with it; "" is nothing.
func (r *Reader) decimal(cell string) (v float64, why string) {
	mark, sure, ok := markOf(cell)
	if !ok {
		return 0, "has more than one mark; write it without grouped thousands"
	}
	if v, ok = pointed(cell); !ok {
		return 0, notNumber
	}
	if r.marks.note(mark, sure); mark != 0 && !sure && !r.marks.only(mark) {
		return 0, "may have decimals or grouped thousands, and the other numbers of the file do not tell which; write it as " + plainly(cell, mark)
	}
	return v, ""
}

// pointed reads a number with a point in the place of its mark.
func pointed(cell string) (float64, bool) { return parseNumber(strings.Replace(cell, ",", ".", 1)) }

// plainly shows both ways to write a number that cannot be mistaken.
func plainly(cell string, mark byte) string {
	at := strings.IndexByte(cell, mark)
	return fmt.Sprintf("%s%s0, or as %s%s", cell[:at+1], cell[at+1:], cell[:at], cell[at+1:])
}

// look reads ahead, as far as the buffer goes, for numbers that show the
// decimal mark.
func (r *Reader) look() {
	ahead := newScanner(strings.NewReader(r.scan.ahead()))
	ahead.sep = r.scan.sep
	for {
		cells, err := ahead.row()
		if err != nil && err != errTooLong && err != errQuote {
			return
		}
		if err != nil || len(cells) != r.width {
			continue
		}
		for _, cell := range []string{cells[r.cols.distance], cells[r.cols.temp]} {
			mark, sure, ok := markOf(cell)
			if _, number := pointed(cell); ok && number {
				r.marks.note(mark, sure)
			}
		}
	}
}
