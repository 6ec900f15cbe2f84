package app

import (
	"context"
	"fmt"
	"math"
	"slices"

	"shutline/app/inspection"
	"shutline/deviation/verdict"
	"shutline/mesh"
	"shutline/mesh/geom"
)

const (
	// referenceTemperature of lengths, °C (ISO 1).
	referenceTemperature = 20
	// uTemperature and uExpansion are the standard uncertainties of a stated
	// temperature (±1 K) and expansion (±1e-6 per kelvin), both rectangular (GUM 4.3.7).
	uTemperature = 1 / 1.7320508075688772
	uExpansion   = 1e-6 / 1.7320508075688772
	// patchPoints is how many of the nearest vertices tell the noise at an end:
	// 20 leave 17 degrees of freedom beside the plane, good to 17 %.
	patchPoints = 20
	// flatLine: a line that meets the surface at less than about 6 degrees has no sure point on it.
	flatLine = 0.1
	// ends farther than this share of the length from the point asked for are another surface.
	endShare = 0.25
)

// MeasureLengths measures the known lengths: along the line through both
// points, between the points of the scan's surface nearest to each, at 20 °C.
func MeasureLengths(ctx context.Context, i *inspection.Inspection, placed *Placed, s Settings) ([]Length, error) {
	var out []Length
	for _, spec := range i.Lengths {
		l := measureLength(spec, i.Scan, placed.Mesh)
		out = append(out, l)
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
	}
	return out, nil
}

func measureLength(spec inspection.Length, scan inspection.Scan, m *mesh.Mesh) Length {
	l := Length{Spec: spec, Judged: spec.HasKnown && spec.HasAllowed}
	l.Allowed = spec.AllowedA + float64(spec.AllowedPerMetre*spec.Known)/1000
	if l.Judged {
		l.Verdict = verdict.Undecided
	}
	dir := spec.To.Sub(spec.From).Unit()
	span := spec.To.Sub(spec.From).Norm()
	ends, ok := endsOn(m, spec.From, dir, span)
	for k, name := range []string{"from", "to"} {
		if !ok[k] {
			l.Why = fmt.Sprintf("the line through both points meets no surface of the scan near %q", name)
			return l
		}
	}
	raw := ends[1].at - ends[0].at
	if !(raw > 0) {
		l.Why = "both ends lie on the same place of the scan"
		return l
	}
	variance := 0.0
	for k, e := range ends {
		if e.slope < flatLine {
			l.Why = fmt.Sprintf("the line runs along the surface near %q, so it has no sure point there", []string{"from", "to"}[k])
			return l
		}
		noise := scan.Noise
		if noise == 0 {
			noise = roughness(m, spec.From.AddScaled(e.at, dir))
		}
		variance += float64(noise/e.slope) * float64(noise/e.slope)
	}
	l.finish(scan, raw, variance)
	return l
}

// finish refers a raw length to 20 °C, compares and judges it.
func (l *Length) finish(scan inspection.Scan, raw, variance float64) {
	spec := l.Spec
	has, temperature, expansion := spec.HasTemperature, spec.Temperature, spec.Expansion
	if !has {
		has, temperature, expansion = scan.HasTemperature, scan.Temperature, scan.Expansion
	}
	v := raw
	if has {
		rise := temperature - referenceTemperature
		v = raw / (1 + float64(expansion*rise))
		byExpansion, byTemperature := float64(v*rise*uExpansion), float64(v*expansion*uTemperature)
		variance += float64(byExpansion*byExpansion) + float64(byTemperature*byTemperature)
	}
	l.Measured = verdict.Value{V: v, U: 2 * math.Sqrt(variance), OK: true}
	if !spec.HasKnown {
		return
	}
	known := spec.KnownU / 2
	l.Error = verdict.Value{V: v - spec.Known, U: 2 * math.Sqrt(variance+float64(known*known)), OK: true}
	l.ErrorPPM = l.Error.V / spec.Known * 1e6
	if l.Judged {
		l.Verdict = verdict.Decide(l.Error, verdict.Tolerance{Lo: -l.Allowed, Hi: l.Allowed})
	}
}

// end is where the line meets the surface: at mm from the first point, and the
// cosine between line and normal.
type end struct{ at, slope float64 }

// endsOn returns the meetings of the line with the mesh nearest to 0 and to span.
func endsOn(m *mesh.Mesh, from, dir geom.Vec, span float64) (ends [2]end, ok [2]bool) {
	best := [2]float64{span * endShare, span * endShare}
	for f := range m.Faces {
		a, b, c := m.Corners(uint32(f))
		at, meets := lineMeets(from, dir, a, b, c)
		if !meets {
			continue
		}
		for k, want := range [2]float64{0, span} {
			if off := math.Abs(at - want); off < best[k] {
				n := b.Sub(a).Cross(c.Sub(a)).Unit()
				best[k], ends[k], ok[k] = off, end{at, math.Abs(n.Dot(dir))}, true
			}
		}
	}
	return ends, ok
}

// lineMeets intersects a line with a triangle, by the signs of the volumes the
// line spans with its edges, borders included (Plücker; Segura & Feito 2001).
func lineMeets(from, dir, a, b, c geom.Vec) (float64, bool) {
	a, b, c = a.Sub(from), b.Sub(from), c.Sub(from)
	u, v, w := dir.Dot(c.Cross(b)), dir.Dot(a.Cross(c)), dir.Dot(b.Cross(a))
	if (u < 0 || v < 0 || w < 0) && (u > 0 || v > 0 || w > 0) {
		return 0, false
	}
	sum := u + v + w
	if sum == 0 {
		return 0, false
	}
	p := a.Scale(u/sum).AddScaled(v/sum, b).AddScaled(w/sum, c)
	return p.Dot(dir), true
}

// roughness returns the standard deviation of the vertices nearest to p from
// their plane, mm: noise and what curvature adds.
func roughness(m *mesh.Mesh, p geom.Vec) float64 {
	type near struct {
		d float64
		i int
	}
	var list []near // the nearest ones, nearest first
	for i, v := range m.Vertices {
		d := v.Sub(p).Norm2()
		if len(list) == patchPoints && d >= list[patchPoints-1].d {
			continue
		}
		k, _ := slices.BinarySearchFunc(list, d, func(e near, d float64) int {
			if e.d <= d {
				return -1
			}
			return 1
		})
		list = slices.Insert(list, k, near{d, i})
		if len(list) > patchPoints {
			list = list[:patchPoints]
		}
	}
	points := make([]geom.Vec, len(list))
	for k, e := range list {
		points[k] = m.Vertices[e.i]
	}
	return planeResidual(points)
}
