package app

import (
	"context"
	"fmt"
	"math"
	"slices"

	"shutline/app/inspection"
	"shutline/deviation"
	"shutline/mesh/quality"
)

const (
	// noiseFaces are looked at for the noise; their median is good to 0.3 %.
	noiseFaces = 1 << 17
	// normalMedian is the median of |x| for a standard normal x: the 0.75 quantile.
	normalMedian = 0.6744897501960817
	// plainlyRougher is how many times the stated noise points must scatter by for their own
	// scatter to count instead.
	plainlyRougher = 3.0
)

// believed returns the noise that an uncertainty is made of, mm: the one stated, unless none is or the points
// are plainly rougher. A stated one that is too small would make every number look surer than it is.
func believed(stated, seen float64) float64 {
	if stated > 0 && !(seen > plainlyRougher*stated) {
		return stated
	}
	return max(stated, seen)
}

// scanNoise returns the noise of a scan point, one standard deviation in mm: what the comparison with the reference counted, where there is one, else
// the one stated, else what neighbouring points differ by. A scan whose noise nobody stated is not one without noise. 0: not known.
func scanNoise(ctx context.Context, i *inspection.Inspection, placed *Placed, compared *Compared) (float64, error) {
	if compared != nil && compared.Field != nil && compared.Field.Noise > 0 {
		return compared.Field.Noise, ctx.Err()
	}
	if i.Scan.Noise > 0 || placed == nil || placed.Mesh == nil {
		return i.Scan.Noise, ctx.Err()
	}
	normals := placed.Normals
	if len(normals) != len(placed.Mesh.Vertices) {
		var err error
		if normals, err = placed.Mesh.VertexNormalsWithin(ctx); err != nil {
			return 0, err
		}
	}
	seen, ok, err := quality.Noise(ctx, placed.Mesh, normals)
	if err != nil || !ok {
		return 0, err
	}
	return seen, nil
}

// hintNoise notes a stated noise that the scan's own does not bear out: one that
// is far too large makes every verdict milder, one far too small makes it harsher.
// Smoothing hides up to about two thirds of the noise, so only more than that, or
// a scan that is plainly rougher than stated, is worth a word.
func (c *Compared) hintNoise(i *inspection.Inspection, faces [][3]uint32) {
	const farAbove = 5.0
	stated := i.Scan.Noise
	if stated <= 0 {
		return
	}
	seen := fieldNoise(c.Field, faces)
	if seen <= 0 || stated <= farAbove*seen && seen <= plainlyRougher*stated {
		return
	}
	counted := ", as every U depends on it"
	if seen > stated {
		counted = "; the surface's U counts with what is seen, those of gaps and flushes with what is stated, where their edges do not scatter more"
	}
	c.Field.Notes = append(c.Field.Notes, fmt.Sprintf(
		"the noise is stated as %.3g mm, but neighbouring points of the scan scatter by %.2g mm; check noise in [scan]%s", stated, seen, counted))
}

// fieldNoise estimates the noise of one scan point, one standard deviation in
// mm, from how the deviation differs between neighbours: the part's own shape is
// gone from it, and dents hardly change from one point to the next. The median
// leaves edges and holes out (Hampel 1974); two points differ by √2 of one's
// noise. A scan that was smoothed shows less noise than its points have. It is 0
// where nothing is measured or the scan has no faces.
func fieldNoise(f *deviation.Field, faces [][3]uint32) float64 {
	var steps []float64
	for k := 0; k < len(faces); k += len(faces)/noiseFaces + 1 {
		for c := range 3 {
			a, b := faces[k][c], faces[k][(c+1)%3]
			if f.State[a] == deviation.Measured && f.State[b] == deviation.Measured {
				steps = append(steps, math.Abs(f.Deviation[a]-f.Deviation[b]))
			}
		}
	}
	if len(steps) == 0 {
		return 0
	}
	slices.Sort(steps)
	return steps[len(steps)/2] / normalMedian / math.Sqrt2
}
