package sim

import (
	"io"

	"leavend/sensor/recording"
)

// WriteCSV writes the recording as the daemon does, with the mat's state and
// the ranger's status word in further columns.
func (r *Recording) WriteCSV(w io.Writer) error {
	out, err := recording.NewWriter(w, recording.WriterOpts{Mat: true, Raw: []string{"status"}})
	if err != nil {
		return err
	}
	for i := range r.Rows {
		if err := out.Write(r.Rows[i].recorded(), r.Rows[i].Status); err != nil {
			return err
		}
	}
	return nil
}

// recorded turns a row into the common form of the project.
func (r *Row) recorded() recording.Row {
	row := recording.Row{At: r.At, DistanceMM: r.DistanceMM, TempC: r.TempC, Mat: recording.Off}
	if r.MatOn {
		row.Mat = recording.On
	}
	if r.Fed {
		row.Note = recording.Fed
	}
	return row
}
