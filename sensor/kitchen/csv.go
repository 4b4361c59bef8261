package kitchen

import (
	"bufio"
	"io"
	"math"
	"strconv"
	"time"
)

// WriteCSV writes the recording as the daemon does: time, distance_mm,
// temperature_c and note, with an empty cell for a reading that did not come;
// the ranger's status follows as a further column.
func (r *Recording) WriteCSV(w io.Writer) error {
	b := bufio.NewWriter(w)
	b.WriteString("time,distance_mm,temperature_c,note,status\n")
	var line []byte
	cell := func(v float64, decimals int) {
		if !math.IsNaN(v) {
			line = strconv.AppendFloat(line, v, 'f', decimals, 64)
		}
		line = append(line, ',')
	}
	decimals := 0
	if step := r.Opts.Ranger.withDefaults().StepMM; step != math.Trunc(step) || step == 0 {
		decimals = 2
	}
	for i := range r.Rows {
		row := &r.Rows[i]
		line = row.At.AppendFormat(line[:0], time.RFC3339)
		line = append(line, ',')
		cell(row.DistanceMM, decimals)
		cell(row.TempC, 2)
		if row.Fed {
			line = append(line, "fed"...)
		}
		line = append(line, ',')
		line = append(line, row.Status...)
		line = append(line, '\n')
		if _, err := b.Write(line); err != nil {
			return err
		}
	}
	return b.Flush()
}
