// Package length compares distances the world already knows, a scale bar or a
// wheelbase, with a scan.
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
	From20Mean float64     // mm taken off for temperature
}

const (
	// Reach is how far from the stated point the surface is looked for, mm.
	Reach = 50.0
	// A temperature is rarely known better than 1 K nor a coefficient better than
	// 1e-6 per kelvin; both as half-widths of even distributions (trade.md 5.3).
	temperatureHalf = 1.0
	expansionHalf   = 1e-6
	chunk           = 1 << 15
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
	span := k.To.Sub(k.From)
	full := span.Norm()
	if !(full > 0) || math.IsInf(full, 0) {
		return nil, fmt.Errorf("length: the two points are the same or not finite")
	}
	if !(k.Length > 0) || math.IsInf(k.Length, 0) {
		return nil, fmt.Errorf("length: the known length %g is not a positive number of mm", k.Length)
	}
	r := &Result{Allowed: k.A + float64(k.PerMetre*k.Length)/1000}
	if k.HasAllowed {
		r.Verdict = verdict.Undecided
	}
	ends, err := meet(ctx, placed, k.From, span.Scale(1/full), full, s.Threads)
	if err != nil {
		return nil, err
	}
	for i, name := range [2]string{"first", "second"} {
		if !ends[i].ok {
			r.Why = fmt.Sprintf("The line through both points does not meet the scan within %.0f mm of the %s point.", Reach, name)
			return r, nil
		}
	}
	if ends[1].at-ends[0].at <= 0 {
		r.Why = "Both points meet the same place of the scan."
		return r, nil
	}
	r.fill(placed, k, s, ends, span.Scale(1/full))
	return r, nil
}

// fill turns the two ends into the result with its uncertainty.
func (r *Result) fill(m *mesh.Mesh, k Known, s Settings, ends [2]crossing, dir geom.Vec) {
	raw := ends[1].at - ends[0].at
	for i := range ends {
		r.Ends[i] = k.From.AddScaled(ends[i].at, dir)
	}
	l20, variance := raw, 0.0
	if k.HasTemperature {
		dt := k.Temperature - 20
		l20 = raw / (1 + float64(k.Expansion*dt))
		r.From20Mean = raw - l20
		ua := raw * dt * expansionHalf / math.Sqrt(3)
		ut := raw * k.Expansion * temperatureHalf / math.Sqrt(3)
		variance += float64(ua*ua) + float64(ut*ut)
	}
	for _, e := range ends {
		// A point of a face is the mean of three corners at best; slanted, its
		// noise along the line grows by 1/cos.
		n := m.AreaNormal(uint32(e.face)).Unit()
		u := s.Noise / max(math.Abs(n.Dot(dir)), 0.05)
		variance += float64(u * u)
	}
	u := 2 * math.Sqrt(variance)
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
