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

// parse finds the number, and the time if a path for it is set.
func (s *Source) parse(payload []byte) (v float64, stamp time.Time, err error) {
	if s.opts.Field == "" && s.opts.TimeField == "" {
		v, err = number(string(bytes.TrimSpace(payload)))
		return v, stamp, err
	}
	doc, err := document(payload)
	if err != nil {
		return 0, stamp, err
	}
	cell, err := lookUp(doc, s.opts.Field)
	if err != nil {
		return 0, stamp, err
	}
	if v, err = number(cell); err != nil {
		return 0, stamp, fmt.Errorf("%s: %w", s.opts.Field, err)
	}
	if s.opts.TimeField == "" {
		return v, stamp, nil
	}
	if cell, err = lookUp(doc, s.opts.TimeField); err != nil {
		return 0, stamp, err
	}
	if stamp, err = instant(cell); err != nil {
		return 0, stamp, fmt.Errorf("%s: %w", s.opts.TimeField, err)
	}
	return v, stamp, nil
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

// instant reads a time: RFC 3339, or seconds or milliseconds since 1970. The
// two are told apart by size: as seconds, 1e11 lies in the year 5138, as
// milliseconds in 1973.
func instant(text string) (time.Time, error) {
	if t, err := time.Parse(time.RFC3339, text); err == nil {
		return t, nil
	}
	v, err := number(text)
	if err != nil || v < 1e9 || v > 1e14 {
		return time.Time{}, fmt.Errorf("%.40q is no time: RFC 3339, or seconds or milliseconds since 1970", text)
	}
	if v > 1e11 {
		v /= 1000
	}
	sec, frac := math.Modf(v)
	return time.Unix(int64(sec), int64(frac*1e9)), nil
}
