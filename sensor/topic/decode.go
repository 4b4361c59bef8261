package topic

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"
)

// parsed is what a message says.
type parsed struct {
	value float64
	step  float64   // what one in the last digit of the value is
	stamp time.Time // zero if no path for it is set
}

// parse finds the number, and the time if a path for it is set.
func (s *Source) parse(payload []byte) (p parsed, err error) {
	if s.opts.Field == "" && s.opts.TimeField == "" {
		text := string(bytes.TrimSpace(payload))
		p.value, err = number(text)
		p.step = lastDigit(text)
		return p, err
	}
	doc, err := document(payload)
	if err != nil {
		return p, err
	}
	cell, err := lookUp(doc, s.opts.Field)
	if err != nil {
		return p, err
	}
	if p.value, err = number(cell); err != nil {
		return p, fmt.Errorf("%s: %w", s.opts.Field, err)
	}
	p.step = lastDigit(cell)
	if s.opts.TimeField == "" {
		return p, nil
	}
	if cell, err = lookUp(doc, s.opts.TimeField); err != nil {
		return p, err
	}
	if p.stamp, err = instant(cell); err != nil {
		return p, fmt.Errorf("%s: %w", s.opts.TimeField, err)
	}
	return p, nil
}

// lastDigit returns what one in the last digit of a number is: 0.01 for 0.18,
// and nothing for one that is written with an exponent.
func lastDigit(text string) float64 {
	if strings.ContainsAny(text, "eE") {
		return 0
	}
	_, decimals, _ := strings.Cut(text, ".")
	return math.Pow10(-len(decimals))
}

// document decodes one JSON value and nothing behind it.
func document(payload []byte) (doc any, err error) {
	dec := json.NewDecoder(bytes.NewReader(payload))
	dec.UseNumber()
	if err := dec.Decode(&doc); err != nil {
		return nil, fmt.Errorf("the message is no JSON: %w", err)
	}
	if _, err := dec.Token(); err != io.EOF {
		return nil, errors.New("the message has text behind its JSON document")
	}
	return doc, nil
}

// lookUp follows a path of names and list positions, joined by dots, to a
// number or a text.
func lookUp(doc any, path string) (string, error) {
	for _, step := range strings.Split(path, ".") {
		switch node := doc.(type) {
		case map[string]any:
			next, ok := node[step]
			if !ok {
				return "", fmt.Errorf("the message has no field %q (of %s)", step, path)
			}
			doc = next
		case []any:
			i, err := strconv.Atoi(step)
			if err != nil || i < 0 || i >= len(node) {
				return "", fmt.Errorf("the message has no element %q (of %s) in a list of %d", step, path, len(node))
			}
			doc = node[i]
		default:
			return "", fmt.Errorf("the message holds nothing below %q (of %s)", step, path)
		}
	}
	switch v := doc.(type) {
	case json.Number:
		return v.String(), nil
	case string:
		return strings.TrimSpace(v), nil
	}
	return "", fmt.Errorf("%s is no number", path)
}

// number reads a decimal number. Go's words for infinity and not-a-number and
// its hexadecimal are no readings.
func number(text string) (float64, error) {
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) || strings.ContainsAny(text, "xX_") {
		return 0, fmt.Errorf("%.40q is no number", text)
	}
	return v, nil
}

// layouts are the ways in which much firmware writes a time beside RFC 3339:
// ISO 8601 with a zone without a colon, and without any zone, which is taken
// for the board's own. A fraction of a second may follow each.
var layouts = []string{time.RFC3339, "2006-01-02T15:04:05Z0700", "2006-01-02T15:04:05", "2006-01-02 15:04:05"}

// instant reads a time, or seconds or milliseconds since 1970. The two are told
// apart by size: as seconds, 1e11 lies in the year 5138, as milliseconds in 1973.
func instant(text string) (time.Time, error) {
	for _, layout := range layouts {
		if t, err := time.ParseInLocation(layout, text, time.Local); err == nil {
			return t, nil
		}
	}
	v, err := number(text)
	if err != nil || v < 1e9 || v > 1e14 {
		return time.Time{}, fmt.Errorf("%.40q is no time: RFC 3339, with or without a zone, or seconds or milliseconds since 1970", text)
	}
	if v > 1e11 {
		v /= 1000
	}
	sec, frac := math.Modf(v)
	return time.Unix(int64(sec), int64(frac*1e9)), nil
}
