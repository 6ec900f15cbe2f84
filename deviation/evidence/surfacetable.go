package evidence

import (
	"context"
	"io"
	"strconv"

	"shutline/deviation"
	"shutline/mesh"
	"shutline/mesh/parallel"
)

const (
	surfaceHeader = "vertex,x_mm,y_mm,z_mm,deviation_mm,state,U_mm\r\n"
	// surfaceRun rows are formatted at a time by one goroutine, some 500 kB of text.
	surfaceRun = 8192
	// surfaceBatch runs are held at once: 16 MB whatever the size of the scan.
	surfaceBatch = 32
)

// writeSurface writes one row per scan vertex.
func writeSurface(ctx context.Context, w io.Writer, r *Record, threads int, progress mesh.Progress) error {
	return writeRows(ctx, w, surfaceHeader, len(r.Mesh.Vertices), func(b []byte, i int) []byte { return appendSurfaceRow(b, r, i) }, threads, progress)
}

// writeRows writes a table of n rows. Runs are formatted side by side
// and written in order, so the bytes do not depend on the number of threads.
func writeRows(ctx context.Context, w io.Writer, header string, n int, appendRow func(b []byte, i int) []byte, threads int, progress mesh.Progress) error {
	if _, err := io.WriteString(w, header); err != nil {
		return err
	}
	var runs [surfaceBatch][]byte
	for from := 0; from < n; from += surfaceBatch * surfaceRun {
		count := min(n-from, surfaceBatch*surfaceRun)
		err := parallel.Chunks(ctx, count, surfaceRun, threads, nil, func(_, chunk, lo, hi int) {
			b := runs[chunk][:0]
			for i := from + lo; i < from+hi; i++ {
				b = appendRow(b, i)
			}
			runs[chunk] = b
		})
		if err != nil {
			return err
		}
		for k := range (count + surfaceRun - 1) / surfaceRun {
			if _, err := w.Write(runs[k]); err != nil {
				return err
			}
		}
		progress.Report(float64(from+count) / float64(n))
	}
	return nil
}

func appendSurfaceRow(b []byte, r *Record, i int) []byte {
	v, f := r.Mesh.Vertices[i], r.Surface.Field
	b = strconv.AppendInt(b, int64(i), 10)
	for _, x := range [3]float64{v.X, v.Y, v.Z} {
		b = append(b, ',')
		b = appendFixed(b, x, mmDecimals)
	}
	b = append(b, ',')
	if d := f.Deviation[i]; f.State[i] == deviation.Measured && !mm(d).missing() {
		b = appendFixed(b, d, mmDecimals)
	}
	b = append(b, ',')
	b = append(b, f.State[i].String()...)
	b = append(b, ',')
	if v, has := f.Value(i); has && !mm(v.U).missing() {
		b = appendFixed(b, v.U, mmDecimals)
	}
	return append(b, '\r', '\n')
}
