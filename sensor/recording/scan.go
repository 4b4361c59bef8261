package recording

import (
	"bufio"
	"errors"
	"io"
	"strings"
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

// scanner cuts a CSV file into the cells of its rows. Unlike encoding/csv it
// goes on behind a row that is broken, and loses only the first line of it.
type scanner struct {
	src   *bufio.Reader
	sep   string   // between cells; "" until the header tells it
	line  int      // of the row returned last, from 1
	read  int      // lines that were taken from src
	again []string // lines that a broken row ran over, to be read again
}

func newScanner(src io.Reader) *scanner {
	return &scanner{src: bufio.NewReaderSize(src, 4*maxRecord)}
}

// row returns the cells of the next row that is not empty. errTooLong and
// errQuote concern this row only; any other error is final.
func (s *scanner) row() ([]string, error) {
	for {
		text, err := s.next()
		s.line = s.read - len(s.again)
		switch {
		case err != nil:
			return nil, err
		case len(text) > maxRecord:
			return nil, errTooLong
		case trimBreak(text) == "":
			continue
		case s.sep == "":
			s.sep = separatorOf(trimBreak(text))
		}
		return s.cells(text)
	}
}

// cells cuts the row that begins with a line, and reads on where a quote is open
// at its end. When the row is broken, only its first line is lost: the quote that
// opens it may be the one wrong byte, and the lines below it good rows.
func (s *scanner) cells(text string) ([]string, error) {
	var more []string
	for {
		cells, open, ok := cut(trimBreak(text), s.sep)
		if ok {
			return cells, nil
		}
		line, err := "", errQuote
		if open {
			line, err = s.next()
		}
		if err == nil {
			more, text = append(more, line), text+line
		}
		if err != nil || len(text) > maxRecord {
			s.again = append(more, s.again...)
			return nil, errQuote
		}
	}
}

// cut cuts a row into its cells (RFC 4180). open says that it ends within quotes.
// A quote within a bare cell is text: a note may speak of a 5" jar.
func cut(text, sep string) (cells []string, open, ok bool) {
	for {
		cell, rest, quoted := text, "", strings.HasPrefix(text, `"`)
		if quoted {
			if cell, rest, ok = unquote(text[1:]); !ok {
				return nil, true, false
			}
		} else if i := strings.Index(text, sep); i >= 0 {
			cell, rest = text[:i], text[i:]
		}
		cells = append(cells, cell)
		switch {
		case rest == "":
			return cells, false, true
		case !strings.HasPrefix(rest, sep):
			return nil, false, false
		}
		text = rest[len(sep):]
	}
}

// unquote takes a cell up to its closing quote.
func unquote(text string) (cell, rest string, closed bool) {
	for {
		part, after, found := strings.Cut(text, `"`)
		if !found {
			return "", "", false
		}
		if cell += part; !strings.HasPrefix(after, `"`) {
			return cell, after, true
		}
		cell, text = cell+`"`, after[1:]
	}
}

// next returns the next line with its break; of one that is too long, its
// beginning. A line that a failing reader cut short is none.
func (s *scanner) next() (string, error) {
	if len(s.again) > 0 {
		line := s.again[0]
		s.again = s.again[1:]
		return line, nil
	}
	b, err := s.src.ReadSlice('\n')
	line := string(b)
	for err == bufio.ErrBufferFull {
		_, err = s.src.ReadSlice('\n')
	}
	if len(line) == 0 || err != nil && err != io.EOF {
		return "", err
	}
	if s.read++; s.read == 1 {
		line = strings.TrimPrefix(line, "\uFEFF") // a byte order mark
	}
	return line, nil
}

// ahead returns what follows, as far as it is buffered. A line that the buffer
// cuts is left out: the rest of a number may lie behind the cut.
func (s *scanner) ahead() string {
	b, err := s.src.Peek(4 * maxRecord)
	text := string(b)
	if err != io.EOF {
		text = text[:strings.LastIndexByte(text, '\n')+1]
	}
	return text
}

// trimBreak takes the line break, LF or CRLF, off the end of text.
func trimBreak(text string) string {
	return strings.TrimSuffix(strings.TrimSuffix(text, "\n"), "\r")
}
