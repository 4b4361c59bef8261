package recording

import (
	"math"
	"strconv"
	"time"
)

// parseTime reads an RFC 3339 time. The usual shapes take a short path; what
// that path does not know goes to time.Parse, so both agree on what is a time.
// zone turns a UTC offset in seconds into a location.
func parseTime(b []byte, zone func(offset int) *time.Location) (time.Time, bool) {
	sec, nsec, offset, ok := fastTime(b)
	if !ok {
		t, err := time.Parse(time.RFC3339, string(b))
		return t, err == nil
	}
	return time.Unix(sec, int64(nsec)).In(zone(offset)), true
}

// fastTime reads 2006-01-02T15:04:05[.fraction](Z|±07:00) with at most nine
// digits of fraction. It returns Unix seconds, nanoseconds and the offset.
func fastTime(b []byte) (sec int64, nsec, offset int, ok bool) {
	if len(b) < 20 || b[4] != '-' || b[7] != '-' || b[10] != 'T' || b[13] != ':' || b[16] != ':' {
		return 0, 0, 0, false
	}
	year := 100*two(b[0:]) + two(b[2:])
	month, day := two(b[5:]), two(b[8:])
	hour, minute, second := two(b[11:]), two(b[14:]), two(b[17:])
	// A pair that is not two digits counts as 10,000 and fails these bounds.
	if year > 9999 || month < 1 || month > 12 || day < 1 || hour > 23 || minute > 59 || second > 59 {
		return 0, 0, 0, false
	}
	if day > daysIn(year, month) {
		return 0, 0, 0, false
	}
	rest := b[19:]
	if rest[0] == '.' {
		nsec, rest, ok = fraction(rest[1:])
		if !ok {
			return 0, 0, 0, false
		}
	}
	if offset, ok = zoneOffset(rest); !ok {
		return 0, 0, 0, false
	}
	sec = daysSince1970(year, month, day)*86400 + int64(hour*3600+minute*60+second-offset)
	return sec, nsec, offset, true
}

// two reads two digits; anything else gives 10,000.
func two(b []byte) int {
	hi, lo := b[0]-'0', b[1]-'0'
	if hi > 9 || lo > 9 {
		return 10000
	}
	return int(hi)*10 + int(lo)
}

// fraction reads one to nine digits of a second and returns what follows.
func fraction(b []byte) (nsec int, rest []byte, ok bool) {
	n := 0
	for n < len(b) && b[n]-'0' <= 9 {
		if n == 9 {
			return 0, nil, false
		}
		nsec = nsec*10 + int(b[n]-'0')
		n++
	}
	for range 9 - n {
		nsec *= 10
	}
	return nsec, b[n:], n > 0 && n < len(b)
}

// zoneOffset reads Z or ±07:00 and returns seconds east of Greenwich.
func zoneOffset(b []byte) (int, bool) {
	if len(b) == 1 && b[0] == 'Z' {
		return 0, true
	}
	if len(b) != 6 || b[3] != ':' || b[0] != '+' && b[0] != '-' {
		return 0, false
	}
	hours, minutes := two(b[1:]), two(b[4:])
	if hours > 23 || minutes > 59 {
		return 0, false
	}
	offset := hours*3600 + minutes*60
	if b[0] == '-' {
		offset = -offset
	}
	return offset, true
}

// daysIn returns the number of days of a month of the Gregorian calendar.
func daysIn(year, month int) int {
	switch month {
	case 2:
		if year%4 == 0 && (year%100 != 0 || year%400 == 0) {
			return 29
		}
		return 28
	case 4, 6, 9, 11:
		return 30
	}
	return 31
}

// daysSince1970 counts the days from 1 January 1970 to a date of the Gregorian
// calendar. The year is taken to start in March, so that the leap day comes
// last and the months follow one linear rule: 153 days every five months.
func daysSince1970(year, month, day int) int64 {
	y, m := int64(year), int64(month)-3
	if m < 0 {
		y, m = y-1, m+12
	}
	y += 400 // Keeps the divisions below on positive numbers for the year 0.
	days := 365*y + y/4 - y/100 + y/400 + (153*m+2)/5 + int64(day) - 1
	const to1970 = 719468 + 146097 // From 1 March of the year 0, and the 400 years added.
	return days - to1970
}

// pow10 holds the powers of ten that a float64 holds exactly and that the
// short path of parseNumber can meet.
var pow10 = [...]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15}

// parseNumber reads a decimal number. Up to 15 digits without exponent take a
// short path that is exact, because both the digits and the power of ten are
// exact in a float64 and one division rounds once. The words for infinity and
// not-a-number that Go would accept are refused, and so is hexadecimal.
func parseNumber(b []byte) (float64, bool) {
	i, neg := 0, false
	if len(b) > 0 && (b[0] == '-' || b[0] == '+') {
		i, neg = 1, b[0] == '-'
	}
	mantissa, digits, decimals, point := int64(0), 0, 0, false
	for ; i < len(b); i++ {
		switch c := b[i]; {
		case c-'0' <= 9 && digits < 15:
			mantissa = mantissa*10 + int64(c-'0')
			digits++
			if point {
				decimals++
			}
		case c == '.' && !point:
			point = true
		default:
			return slowNumber(b)
		}
	}
	if digits == 0 {
		return 0, false
	}
	v := float64(mantissa) / pow10[decimals]
	if neg {
		v = -v
	}
	return v, true
}

// slowNumber reads what the short path does not: many digits, an exponent.
func slowNumber(b []byte) (float64, bool) {
	for _, c := range b {
		if c-'0' > 9 && c != '.' && c != '-' && c != '+' && c != 'e' && c != 'E' {
			return 0, false
		}
	}
	v, err := strconv.ParseFloat(string(b), 64)
	return v, err == nil && !math.IsInf(v, 0)
}
