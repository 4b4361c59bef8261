package cli

import "strings"

// quietZone is how many light modules a QR code needs around it (ISO/IEC 18004).
const quietZone = 4

// drawQR draws a QR code, two rows of it in a line of text. In colour it is
// black on white whatever the terminal's colours are; without, it is drawn for
// dark terminals, and a camera reads the inverse as well.
func drawQR(rows []string, colour bool) string {
	size := len(rows)
	light := func(x, y int) bool {
		return x < 0 || y < 0 || x >= size || y >= size || rows[y][x] == '0'
	}
	var b strings.Builder
	for y := -quietZone; y < size+quietZone; y += 2 {
		if colour {
			b.WriteString("\x1b[97;40m")
		}
		for x := -quietZone; x < size+quietZone; x++ {
			switch upper, lower := light(x, y), light(x, y+1); {
			case upper && lower:
				b.WriteString("█")
			case upper:
				b.WriteString("▀")
			case lower:
				b.WriteString("▄")
			default:
				b.WriteString(" ")
			}
		}
		if colour {
			b.WriteString("\x1b[0m")
		}
		b.WriteString("\n")
	}
	return b.String()
}
