package recording

import (
	"bytes"
	"errors"
	"io"
)

// maxRecord bounds one row, quotes and line breaks included. A row of a
// recording takes some 50 bytes; the bound keeps a missing closing quote or a
// binary file from swallowing everything behind it.
const maxRecord = 64 << 10

// What may be wrong with a row before its cells are looked at.
var (
	errTooLong = errors.New("is longer than 64 KiB; the row is skipped")
	errQuote   = errors.New(`has a quoted cell without its closing quote, or text behind one`)
)

// scanner cuts a CSV file into the cells of its rows. It keeps a window on the
// file in memory and allocates nothing per row.
type scanner struct {
	src     io.Reader
	sep     byte // between cells
	buf     []byte
	r, w    int      // the unread part of buf
	line    int      // number of the line that starts at buf[r], from 1
	err     error    // what src ended with
	cells   [][]byte // of the row returned last
	scratch []byte   // holds cells whose doubled quotes were resolved
}

func newScanner(src io.Reader) *scanner {
	return &scanner{src: src, sep: separators[0], buf: make([]byte, 4*maxRecord), line: 1}
}

// row returns the cells of the next row that is not empty, and its line. They
// are valid until the next call. errTooLong and errQuote concern this row
// only; any other error is final.
func (s *scanner) row() ([][]byte, int, error) {
	for {
		line := s.line
		end := s.lineEnd(0)
		if end < 0 {
			s.skipLine()
			return nil, line, errTooLong
		}
		if end == 0 || s.torn(end) {
			return nil, line, s.err
		}
		text := trimBreak(s.buf[s.r : s.r+end])
		if bytes.IndexByte(text, '"') >= 0 {
			cells, err := s.quoted(end)
			return cells, line, err
		}
		s.advance(end)
		if len(text) > 0 {
			return s.plain(text), line, nil
		}
	}
}

// plain cuts a row without quotes at its separators.
func (s *scanner) plain(text []byte) [][]byte {
	s.cells = s.cells[:0]
	for {
		i := bytes.IndexByte(text, s.sep)
		if i < 0 {
			s.cells = append(s.cells, text)
			return s.cells
		}
		s.cells = append(s.cells, text[:i])
		text = text[i+1:]
	}
}

// quoted cuts a row that holds quotes and whose first line ends at end. When
// the row is broken, only its first line is skipped: the quote that opens it
// may be the one wrong byte, and the lines below it good rows.
func (s *scanner) quoted(end int) ([][]byte, error) {
	first := end
	s.cells, s.scratch = s.cells[:0], s.scratch[:0]
	for p := 0; ; {
		if s.buf[s.r+p] != '"' {
			p = s.bare(p, end)
		} else {
			p, end = s.quotedCell(p, end)
		}
		if p < 0 {
			s.advance(first)
			return nil, errQuote
		}
		if p >= end || s.buf[s.r+p] != s.sep {
			s.advance(end)
			return s.cells, nil
		}
		p++
		if p == end { // The file ends behind a separator: one more, empty cell.
			s.cells = append(s.cells, nil)
			s.advance(end)
			return s.cells, nil
		}
	}
}

// bare takes the cell without opening quote that starts at p and returns where
// it ends. A quote further inside is text: a note may speak of a 5" jar. The
// cell is copied, for the window moves when a later cell runs over lines.
func (s *scanner) bare(p, end int) int {
	text := trimBreak(s.buf[s.r+p : s.r+end])
	if i := bytes.IndexByte(text, s.sep); i >= 0 {
		text = text[:i]
	}
	s.keep(len(s.scratch), text)
	return p + len(text)
}

// keep adds text to the scratch, where a cell began at start, and the cell
// that this completes to the row.
func (s *scanner) keep(start int, text []byte) {
	s.scratch = append(s.scratch, text...)
	s.cells = append(s.cells, s.scratch[start:len(s.scratch):len(s.scratch)])
}

// quotedCell takes the cell whose opening quote stands at p. It returns where
// the cell ends and where its last line does, or -1 when it is broken. A file
// that ends early leaves the window as it is, so that offsets stay good.
func (s *scanner) quotedCell(p, end int) (next, lineEnd int) {
	start, from := len(s.scratch), p+1
	for i := from; ; {
		if i >= end {
			more := s.lineEnd(end)
			if more <= end {
				return -1, end
			}
			end = more
		}
		q := bytes.IndexByte(s.buf[s.r+i:s.r+end], '"')
		if q < 0 {
			i = end
			continue
		}
		i += q
		if i+1 < end && s.buf[s.r+i+1] == '"' {
			s.scratch = append(s.scratch, s.buf[s.r+from:s.r+i+1]...)
			i += 2
			from = i
			continue
		}
		rest := s.buf[s.r+i+1 : s.r+end]
		if len(trimBreak(rest)) > 0 && rest[0] != s.sep {
			return -1, end
		}
		s.keep(start, s.buf[s.r+from:s.r+i])
		return i + 1, end
	}
}

// lineEnd returns the offset behind the line break that follows offset from,
// both counted from the row's start; the file's end counts as a break. It is
// from itself when nothing is left, and -1 when the row grows too long.
func (s *scanner) lineEnd(from int) int {
	for seen := from; ; {
		if i := bytes.IndexByte(s.buf[s.r+seen:s.w], '\n'); i >= 0 {
			if seen+i+1 > maxRecord {
				return -1
			}
			return seen + i + 1
		}
		seen = s.w - s.r
		if seen > maxRecord {
			return -1
		}
		if s.err != nil {
			return seen
		}
		s.fill()
	}
}

// fill reads more of the file behind the unread part.
func (s *scanner) fill() {
	if s.r > 0 && len(s.buf)-s.w < maxRecord {
		s.w = copy(s.buf, s.buf[s.r:s.w])
		s.r = 0
	}
	for range 100 {
		n, err := s.src.Read(s.buf[s.w:])
		if n < 0 || n > len(s.buf)-s.w {
			n, err = 0, errors.New("reader returned an impossible count")
		}
		s.w += n
		s.err = err
		if n > 0 || err != nil {
			return
		}
	}
	s.err = io.ErrNoProgress
}

// begin skips a byte order mark and finds the separator from the first line
// that is not empty, which stays where it is.
func (s *scanner) begin() {
	bom := []byte("\uFEFF")
	if s.lineEnd(0) > 0 && bytes.HasPrefix(s.buf[s.r:s.w], bom) {
		s.r += len(bom)
	}
	for {
		end := s.lineEnd(0)
		if end <= 0 {
			return
		}
		text := trimBreak(s.buf[s.r : s.r+end])
		if len(text) > 0 {
			s.sep = separatorOf(text)
			return
		}
		s.advance(end)
	}
}

// ahead fills the window and returns what is unread in it. A line that the
// window cuts is left out: the rest of a number may lie behind the cut.
func (s *scanner) ahead() []byte {
	for s.err == nil && (s.r > 0 || s.w < len(s.buf)) {
		before := s.w - s.r
		if s.fill(); s.w-s.r == before {
			break
		}
	}
	text := s.buf[s.r:s.w]
	if s.err != io.EOF {
		text = text[:bytes.LastIndexByte(text, '\n')+1]
	}
	return text
}

// torn reports whether the line up to end was cut short by a failing reader,
// rather than by the end of the file.
func (s *scanner) torn(end int) bool {
	return s.err != nil && s.err != io.EOF && s.buf[s.r+end-1] != '\n'
}

// advance moves past n bytes and counts their lines.
func (s *scanner) advance(n int) {
	s.line += bytes.Count(s.buf[s.r:s.r+n], []byte{'\n'})
	s.r += n
}

// skipLine moves past the next line break, however far it is.
func (s *scanner) skipLine() {
	for {
		if i := bytes.IndexByte(s.buf[s.r:s.w], '\n'); i >= 0 {
			s.advance(i + 1)
			return
		}
		s.r = s.w
		if s.err != nil {
			return
		}
		s.r, s.w = 0, 0
		s.fill()
	}
}

// trimBreak takes the line break, LF or CRLF, off the end of text.
func trimBreak(text []byte) []byte {
	if n := len(text); n > 0 && text[n-1] == '\n' {
		text = text[:n-1]
	}
	if n := len(text); n > 0 && text[n-1] == '\r' {
		text = text[:n-1]
	}
	return text
}
