package app

import (
	"context"
	"math"
	"slices"

	"shutline/app/inspection"
	"shutline/deviation/length"
	"shutline/deviation/verdict"
	"shutline/mesh"
	"shutline/mesh/geom"
)

// patchPoints is how many of the nearest vertices tell the noise at an end:
// 20 leave 17 degrees of freedom beside the plane, good to 17 %.
const patchPoints = 20

// plainlyRougher is how many times the stated noise the ends of a length must scatter by
// for their own scatter to count instead.
const plainlyRougher = 3.0

// MeasureLengths measures the known lengths: along the line through both
// points, between the points of the scan's surface nearest to each, at 20 °C.
// A length whose temperature is not stated has the scan's.
func MeasureLengths(ctx context.Context, i *inspection.Inspection, placed *Placed, s Settings) ([]Length, error) {
	var out []Length
	for _, spec := range i.Lengths {
		l, err := measureLength(ctx, spec, i.Scan, placed.Mesh, s)
		if err != nil {
			return nil, err
		}
		if placed.Placement.Ambiguous && l.Judged {
			l.Verdict = verdict.Opened(l.Verdict) // its ends may be other places of the scan
		}
		out = append(out, l)
	}
	return out, nil
}

func measureLength(ctx context.Context, spec inspection.Length, scan inspection.Scan, m *mesh.Mesh, s Settings) (Length, error) {
	known := length.Known{
		From: spec.From, To: spec.To, Length: spec.Known, U: spec.KnownU,
		HasTemperature: spec.HasTemperature, Temperature: spec.Temperature, Expansion: spec.Expansion,
		HasAllowed: spec.HasAllowed, A: spec.AllowedA, PerMetre: spec.AllowedPerMetre,
	}
	if !spec.HasTemperature {
		known.HasTemperature, known.Temperature, known.Expansion = scan.HasTemperature, scan.Temperature, scan.Expansion
	}
	if !spec.HasKnown {
		known.Length, known.HasAllowed = spec.From.Dist(spec.To), false // only so that there is something to measure
	}
	settings := length.Settings{Noise: scan.Noise, Threads: s.Threads}
	r, err := length.Measure(ctx, m, known, settings)
	if err == nil && r.Measured.OK {
		a, b := roughness(m, r.Ends[0]), roughness(m, r.Ends[1])
		seen := math.Sqrt((float64(a*a) + float64(b*b)) / 2)
		// A stated noise is not believed where the ends are plainly rougher; curvature alone does not reach that.
		if scan.Noise == 0 || seen > plainlyRougher*scan.Noise {
			settings.Noise = seen
			r, err = length.Measure(ctx, m, known, settings)
		}
	}
	if err != nil {
		return Length{}, err
	}
	l := Length{Spec: spec, Measured: r.Measured, Why: r.Why}
	if spec.HasKnown {
		l.Error, l.ErrorPPM, l.Allowed, l.Verdict = r.Error, r.ErrorPPM, r.Allowed, r.Verdict
		l.Judged = spec.HasAllowed
	}
	return l, nil
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
