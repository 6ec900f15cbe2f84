// Package length compares distances the world already knows, a scale bar or a
// wheelbase, with a scan: between two places of its surface along a line, between
// planes, cylinders and spheres that are fitted to it, or between its farthest
// places along an axis. Several together tell the scan's scale ([FindScale]).
//
// Lengths are mm, temperatures °C, in the reference's frame.
package length

import (
	"context"
	"fmt"
	"math"

	"shutline/deviation/verdict"
	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/parallel"
)

// Known is a length known beforehand.
type Known struct {
	From, To       geom.Vec // the scan's surface nearest to each, on the line through both, is measured
	Ends           *[2]End  // in place of From and To: between these forms
	Axis           geom.Vec // in place of both, when not zero: between the farthest places along this unit direction
	Length         float64  // mm, at 20 °C
	U              float64  // mm, expanded (k = 2)
	HasTemperature bool
	Temperature    float64 // °C of the part while it was scanned
	Expansion      float64 // per kelvin
	HasAllowed     bool
	A, PerMetre    float64 // allowed error: A mm + PerMetre mm per metre of the known length
}

// Settings that hold for a whole inspection; the zero value works.
type Settings struct {
	Noise   float64 // mm, one standard deviation of a scan point
	Threads int
	Normals []geom.Vec       // unit, of the scan's vertices; nil: not known
	Body    func(i int) bool // whether a vertex is the body's, for its farthest places; nil: all are
}

// Result of one known length. Without a number Measured and Error are not OK and Why says why.
type Result struct {
	Measured   verdict.Value // mm at 20 °C
	Error      verdict.Value // mm, measured - known, with the known length's uncertainty in U
	ErrorPPM   float64
	Allowed    float64 // mm
	Verdict    verdict.Verdict
	Why        string
	Ends       [2]geom.Vec // where the scan's surface was met, as scanned
	Fits       [2]*Fit     // what was fitted there; nil for a line
	Budget     []Line      // of Measured.U, standard uncertainties in mm
	From20Mean float64     // mm taken off for temperature
}

const (
	// Reach is how far from the stated point the surface is looked for, mm.
	Reach = 50.0
	chunk = 1 << 15
)

// crossing is where the line meets a face.
type crossing struct {
	at   float64 // mm along the line from From
	face int
	ok   bool
	off  float64
}

// Measure measures one known length on a scan that has been carried into the
// reference's frame. It returns ctx's error, or one for a length or points that
// cannot be used.
func Measure(ctx context.Context, placed *mesh.Mesh, k Known, s Settings) (*Result, error) {
	if !(k.Length > 0) || math.IsInf(k.Length, 0) {
		return nil, fmt.Errorf("length: the known length %g is not a positive number of mm", k.Length)
	}
	r := &Result{Allowed: allowedOf(k)}
	if k.HasAllowed {
		r.Verdict = verdict.Undecided
	}
	if k.HasTemperature && (k.Temperature < Coldest || k.Temperature > Hottest) {
		r.Why = fmt.Sprintf("A temperature of %g °C is outside %g to %g °C, so the length at 20 °C is not known.", k.Temperature, Coldest, Hottest)
		return r, nil
	}
	switch {
	case k.Axis != (geom.Vec{}):
		return r, r.extremes(ctx, placed, k, s)
	case k.Ends != nil:
		return r, r.forms(ctx, placed, k, s)
	}
	return r, r.line(ctx, placed, k, s)
}

// allowedOf returns the allowed error of the form A + L/K, mm.
func allowedOf(k Known) float64 { return k.A + float64(k.PerMetre*k.Length)/1000 }

// line measures along the line through both points.
func (r *Result) line(ctx context.Context, placed *mesh.Mesh, k Known, s Settings) error {
	span := k.To.Sub(k.From)
	full := span.Norm()
	if !(full > 0) || math.IsInf(full, 0) {
		return fmt.Errorf("length: the two points are the same or not finite")
	}
	dir := span.Scale(1 / full)
	ends, err := meet(ctx, placed, k.From, dir, full, s.Threads)
	if err != nil {
		return err
	}
	for i, name := range [2]string{"first", "second"} {
		if !ends[i].ok {
			r.Why = fmt.Sprintf("The line through both points does not meet the scan within %.0f mm of the %s point", Reach, name)
			if near := []geom.Vec{k.From, k.To}[i]; len(placed.Vertices) > 0 {
				_, d := nearest(placed.Vertices, near)
				r.Why += fmt.Sprintf("; the scan's nearest point is %.1f mm from it", d)
			}
			r.Why += "."
			return nil
		}
	}
	if ends[1].at-ends[0].at <= 0 {
		r.Why = "Both points meet the same place of the scan."
		return nil
	}
	for i := range ends {
		r.Ends[i] = k.From.AddScaled(ends[i].at, dir)
	}
	var lines []Line
	for i, e := range ends {
		// A point of a face is the mean of three corners at best; slanted, its
		// noise along the line grows by 1/cos.
		n := placed.AreaNormal(uint32(e.face)).Unit()
		lines = append(lines, Line{"noise at the " + ordinal[i] + " end", s.Noise / max(math.Abs(n.Dot(dir)), 0.05), 0})
	}
	r.fill(k, s, ends[1].at-ends[0].at, lines)
	return nil
}

var ordinal = [2]string{"first", "second"}

// forms measures between two fitted forms.
func (r *Result) forms(ctx context.Context, placed *mesh.Mesh, k Known, s Settings) error {
	for i, e := range k.Ends {
		if err := ctx.Err(); err != nil {
			return err
		}
		f, why := find(placed, s.Normals, e)
		if why != "" {
			r.Why = why
			return nil
		}
		r.Fits[i], r.Ends[i] = f, f.At
	}
	a, b := r.Fits[0], r.Fits[1]
	raw, _, why := between(a, b)
	if why == "" && raw < shortest {
		why = "Both ends are the same place of the scan."
	}
	if why != "" {
		r.Why = why
		return nil
	}
	// Each fit's part alone, for the budget.
	var lines []Line
	for i := range 2 {
		one, other := *a, *b
		if i == 0 {
			other.covariance, other.tilt = [3][3]float64{}, [3][3]float64{}
		} else {
			one.covariance, one.tilt = [3][3]float64{}, [3][3]float64{}
		}
		_, u, _ := between(&one, &other)
		lines = append(lines, Line{"fit of the " + ordinal[i] + " end", u, 0})
	}
	r.fill(k, s, raw, lines)
	return nil
}

// shortest is the smallest length that is measured, mm.
const shortest = 1e-3

// extremes measures between the farthest places along an axis.
func (r *Result) extremes(ctx context.Context, placed *mesh.Mesh, k Known, s Settings) error {
	axis := k.Axis.Unit()
	var lines []Line
	for i, way := range [2]geom.Vec{axis.Neg(), axis} {
		f, u, why, err := extreme(ctx, placed, s.Normals, s.Body, way)
		if err != nil {
			return err
		}
		if why != "" {
			r.Why = why
			return nil
		}
		r.Fits[i], r.Ends[i] = f, f.At
		// The fit tells its own scatter; a stated noise is what single points have.
		lines = append(lines, Line{"place of the " + ordinal[i] + " end", hypot(u, s.Noise/math.Sqrt(float64(max(f.Points, 1)))), 0})
	}
	if a, b := r.Fits[0], r.Fits[1]; a.Points == 1 && b.Points == 1 {
		// A mesh ends at both of its edges in the same way, on its last points or short of them: the two err alike (GUM 5.2.2, r = 1).
		lines = append(lines, Line{"both ends alike", math.Sqrt(2 * lines[0].U * lines[1].U), 0})
	}
	raw := r.Ends[1].Sub(r.Ends[0]).Dot(axis)
	if raw < shortest {
		r.Why = "The scan has no extent along the axis."
		return nil
	}
	r.fill(k, s, raw, lines)
	return nil
}

// fill refers a length to 20 °C and judges it.
func (r *Result) fill(k Known, s Settings, raw float64, lines []Line) {
	l20 := raw
	if k.HasTemperature {
		l20 = At20(raw, k.Expansion, k.Temperature)
		r.From20Mean = raw - l20
		lines = append(lines, thermal(raw, k.Expansion, k.Temperature-20, expansionHalf/math.Sqrt(3), temperatureHalf/math.Sqrt(3))...)
	}
	r.Budget = lines
	u, _ := Combined(lines)
	u *= 2
	r.Measured = verdict.Value{V: l20, U: u, OK: true}
	r.Error = verdict.Value{V: l20 - k.Length, U: math.Sqrt(float64(u*u) + float64(k.U*k.U)), OK: true}
	r.ErrorPPM = r.Error.V / k.Length * 1e6
	if k.HasAllowed {
		r.Verdict = verdict.Decide(r.Error, verdict.Tolerance{Lo: -r.Allowed, Hi: r.Allowed})
	}
}

// meet finds, for each end, the crossing of the line and a face that is nearest to it.
func meet(ctx context.Context, m *mesh.Mesh, from, dir geom.Vec, full float64, threads int) ([2]crossing, error) {
	parts := make([][2]crossing, (len(m.Faces)+chunk-1)/chunk)
	err := parallel.Chunks(ctx, len(m.Faces), chunk, threads, nil, func(_, c, lo, hi int) {
		for f := lo; f < hi; f++ {
			at, ok := cross(m, uint32(f), from, dir)
			if !ok {
				continue
			}
			for i, end := range [2]float64{0, full} {
				off := math.Abs(at - end)
				if best := &parts[c][i]; off <= Reach && (!best.ok || off < best.off) {
					*best = crossing{at, f, true, off}
				}
			}
		}
	})
	var out [2]crossing
	for _, p := range parts {
		for i := range out {
			if p[i].ok && (!out[i].ok || p[i].off < out[i].off) {
				out[i] = p[i]
			}
		}
	}
	return out, err
}

// cross intersects the endless line with a face (Möller & Trumbore 1997),
// borders included, from either side.
func cross(m *mesh.Mesh, f uint32, from, dir geom.Vec) (at float64, ok bool) {
	a, b, c := m.Corners(f)
	e1, e2 := b.Sub(a), c.Sub(a)
	p := dir.Cross(e2)
	det := e1.Dot(p)
	if det == 0 {
		return 0, false
	}
	t := from.Sub(a)
	u := t.Dot(p) / det
	// Rounding must not let the line slip between two faces.
	const crack = 1e-9
	if u < -crack || u > 1+crack {
		return 0, false
	}
	q := t.Cross(e1)
	if v := dir.Dot(q) / det; v < -crack || u+v > 1+crack {
		return 0, false
	}
	at = e2.Dot(q) / det
	return at, !math.IsNaN(at) && !math.IsInf(at, 0)
}
