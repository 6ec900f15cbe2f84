package app

import (
	"context"
	"fmt"
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

// MeasureLengths measures the known lengths at 20 °C: along the line through both
// points, between the points of the scan's surface nearest to each; between two forms; or between
// the farthest places along an axis. A length whose temperature is not stated has the scan's.
func MeasureLengths(ctx context.Context, i *inspection.Inspection, placed *Placed, s Settings) ([]Length, error) {
	var out []Length
	body := bodyOf(placed.Mesh, i.Lengths)
	for _, spec := range i.Lengths {
		l, err := measureLength(ctx, spec, i.Scan, placed, body, s)
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

func measureLength(ctx context.Context, spec inspection.Length, scan inspection.Scan, placed *Placed, body func(int) bool, s Settings) (Length, error) {
	m := placed.Mesh
	known := length.Known{
		From: spec.From, To: spec.To, Ends: spec.Ends, Axis: axisOf(spec.Extremes), Length: spec.Known, U: spec.KnownU,
		HasTemperature: spec.HasTemperature, Temperature: spec.Temperature, Expansion: spec.Expansion,
		HasAllowed: spec.HasAllowed, A: spec.AllowedA, PerMetre: spec.AllowedPerMetre,
	}
	if !spec.HasTemperature {
		known.HasTemperature, known.Temperature, known.Expansion = scan.HasTemperature, scan.Temperature, scan.Expansion
	}
	if !spec.HasKnown {
		known.Length, known.HasAllowed = 1, false // only so that there is something to measure
	}
	settings := length.Settings{Noise: scan.Noise, Threads: s.Threads, Normals: placed.Normals, Body: body}
	if len(settings.Normals) != len(m.Vertices) {
		settings.Normals = nil
	}
	r, err := length.Measure(ctx, m, known, settings)
	// Forms and summits tell their own scatter.
	if err == nil && r.Measured.OK && r.Fits[0] == nil {
		a, b := roughness(m, r.Ends[0]), roughness(m, r.Ends[1])
		seen := math.Sqrt((float64(a*a) + float64(b*b)) / 2)
		// A stated noise is not believed where the ends are plainly rougher; curvature alone does not reach that.
		if used := believed(scan.Noise, seen); used != scan.Noise {
			settings.Noise = used
			r, err = length.Measure(ctx, m, known, settings)
		}
	}
	if err != nil {
		return Length{}, err
	}
	if spec.HasKnown && r.Measured.OK {
		if ratio := r.Measured.V / spec.Known; !(ratio < mostRatio && ratio > 1/mostRatio) {
			return Length{
				Spec: spec, Judged: spec.HasAllowed, Verdict: opened(spec), Allowed: r.Allowed,
				Why: fmt.Sprintf("The scan reads %.5g mm there where %.5g mm are known, %.3g times as much, which no scan is off by: one of the two is in another unit, or the points are not the length's.", r.Measured.V, spec.Known, ratio),
			}, nil
		}
	}
	l := Length{Spec: spec, Measured: r.Measured, Reading: r.Measured, Why: r.Why, Ends: r.Ends, Fits: r.Fits, Budget: r.Budget}
	if spec.HasKnown {
		l.Error, l.ErrorPPM, l.Allowed, l.Verdict = r.Error, r.ErrorPPM, r.Allowed, r.Verdict
		l.Judged = spec.HasAllowed
	}
	return l, nil
}

// mostRatio is the factor from which a length is another one, or in another unit: a poor scanner's reach a sixth.
const mostRatio = 1.5

// opened is the verdict of a length without a number.
func opened(spec inspection.Length) verdict.Verdict {
	if spec.HasAllowed {
		return verdict.Undecided
	}
	return verdict.NotJudged
}

func axisOf(name string) geom.Vec {
	switch name {
	case "x":
		return geom.Vec{X: 1}
	case "y":
		return geom.Vec{Y: 1}
	case "z":
		return geom.Vec{Z: 1}
	}
	return geom.Vec{}
}

// Between says what a length lies between, in the words of files: "line", "plane and sphere", "extremes x".
func (l *Length) Between() string {
	switch {
	case l.Spec.Extremes != "":
		return "extremes " + l.Spec.Extremes
	case l.Spec.Ends != nil:
		return l.Spec.Ends[0].Kind.String() + " and " + l.Spec.Ends[1].Kind.String()
	}
	return "line"
}

// leastPiece is the share of the scan's area from which a piece of it counts as the body's: a
// target, a speck or a clamp is less.
const leastPiece = 0.01

// bodyOf says which points of a scan count for the body's farthest places, where any length asks for
// them: those of pieces that are not tiny. nil: all.
func bodyOf(m *mesh.Mesh, lengths []inspection.Length) func(int) bool {
	if len(m.Faces) == 0 || !slices.ContainsFunc(lengths, func(l inspection.Length) bool { return l.Extremes != "" }) {
		return nil
	}
	sets := mesh.NewSets(len(m.Vertices))
	for _, f := range m.Faces {
		sets.Join(f[0], f[1])
		sets.Join(f[1], f[2])
	}
	area := make([]float64, len(m.Vertices))
	total := 0.0
	for k, f := range m.Faces {
		a := m.AreaNormal(uint32(k)).Norm()
		area[sets.Root(f[0])] += a
		total += a
	}
	return func(i int) bool { return area[sets.Root(uint32(i))] >= leastPiece*total }
}

// CommonScale tells the scan's scale from its known lengths.
func CommonScale(lengths []Length) length.Scale {
	known, measured := make([]verdict.Value, len(lengths)), make([]verdict.Value, len(lengths))
	for k, l := range lengths {
		known[k] = verdict.Value{V: l.Spec.Known, U: l.Spec.KnownU, OK: l.Spec.HasKnown}
		measured[k] = l.Reading
	}
	return length.FindScale(known, measured)
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
