package replay

import (
	"encoding/json"
	"math"
	"strconv"
	"time"
)

// appendTime adds a field with a time to the second; a zero time adds none.
func appendTime(b []byte, name string, at time.Time) []byte {
	if at.IsZero() {
		return b
	}
	b = append(appendName(b, name), '"')
	return append(at.Round(time.Second).AppendFormat(b, time.RFC3339), '"')
}

// appendText adds a field with a string.
func appendText(b []byte, name, text string) []byte {
	quoted, _ := json.Marshal(text) // a string always has a JSON form
	return append(appendName(b, name), quoted...)
}

// appendNumber adds a field with a number; what is not known is null.
func appendNumber(b []byte, name string, v float64, decimals int) []byte {
	b = appendName(b, name)
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return append(b, "null"...)
	}
	return strconv.AppendFloat(b, v, 'f', decimals, 64)
}

// appendHeight adds the height above the floor, null where the floor is not
// known, for a distance with its sign turned is no height.
func appendHeight(b []byte, heightMM, floor float64) []byte {
	if floor == 0 {
		heightMM = math.NaN()
	}
	return appendNumber(b, "height_mm", heightMM, 1)
}

func appendName(b []byte, name string) []byte {
	b = append(b, ',', '"')
	b = append(b, name...)
	return append(b, '"', ':')
}
