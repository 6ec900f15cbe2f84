package drift

import (
	"math"

	"shutline/deviation"
	"shutline/mesh/geom"
)

const (
	// mostSamples are looked at: with 400 cells that is 150 in each, whose mean is good to a
	// twelfth of the noise.
	mostSamples = 60_000
	// mostTurned samples are looked at of what faces another way than most of its surroundings: rolled edges, swages and returns hold what moves along
	// a skin, and are little of its area.
	mostTurned = 60_000
	// turnedCos is where another way begins: at 25 degrees.
	turnedCos = 0.9063077870366499
	// turnedCubes are the surroundings: cubes, so many along the box's diagonal.
	turnedCubes = 40
)

// choose takes measured points so that each stands for the same area, among those that face as their surroundings and among those that do
// not (normal-space sampling, Rusinkiewicz & Levoy 2001, by two shares): a point is
// drawn from every share of the cumulated area, at a place within the share that
// differs from share to share, so that no pattern of the mesh is followed.
func choose(in *Input) []sample {
	n := 0
	for i := range in.Field.State {
		if in.counts(i) {
			n++
		}
	}
	pieces := piecesOf(in)
	take := func(i int, area float64) sample {
		s := sample{p: in.Points[i], area: area}
		if pieces != nil {
			s.piece = pieces.Root(uint32(i))
		}
		if in.Normals != nil {
			s.facing = in.Normals[i]
		}
		return s
	}
	if n <= mostSamples {
		out := make([]sample, 0, n)
		for i := range in.Field.State {
			if in.counts(i) {
				out = append(out, take(i, in.weight(i)))
			}
		}
		return out
	}
	turned := in.turned()
	out := in.draw(nil, mostSamples, func(i int) bool { return turned == nil || !turned[i] }, take)
	if turned != nil {
		out = in.draw(out, mostTurned, func(i int) bool { return turned[i] }, take)
	}
	return out
}

// weight is the area in mm² that a point stands for, or one.
func (in *Input) weight(i int) float64 {
	if in.Areas == nil {
		return 1
	}
	return in.Areas[i]
}

// counts says of a point that it was measured and stands for some area.
func (in *Input) counts(i int) bool {
	return in.Field.State[i] == deviation.Measured && in.weight(i) > 0
}

// draw adds points of some kind: all, or so many.
func (in *Input) draw(out []sample, most int, of func(i int) bool, take func(i int, area float64) sample) []sample {
	n, total := 0, 0.0
	for i := range in.Field.State {
		if in.counts(i) && of(i) {
			n++
			total += in.weight(i)
		}
	}
	every := n <= most
	share := total / float64(most)
	at, next, drawn := 0.0, share*unitHash(0), 0
	for i := range in.Field.State {
		if !in.counts(i) || !of(i) {
			continue
		}
		if every {
			out = append(out, take(i, in.weight(i)))
			continue
		}
		at += in.weight(i)
		for at > next { // a point that stands for several shares counts for them all
			out = append(out, take(i, share))
			if drawn++; drawn < most {
				next = float64(share * float64(float64(drawn)+unitHash(uint64(drawn))))
			} else {
				next = math.Inf(1)
			}
		}
	}
	return out
}

// turned says of every point that counts whether it faces another way than its surroundings on the whole; nil without normals.
func (in *Input) turned() []bool {
	if in.Normals == nil {
		return nil
	}
	box := geom.EmptyBox()
	for i := range in.Field.State {
		if in.counts(i) {
			box = box.Extend(in.Points[i])
		}
	}
	side := box.Diagonal() / turnedCubes
	if !(side > 0) {
		return nil
	}
	across := func(lo, hi float64) int { return int(math.Floor((hi-lo)/side)) + 1 }
	ny, nz := across(box.Lo.Y, box.Hi.Y), across(box.Lo.Z, box.Hi.Z)
	cube := func(p geom.Vec) int {
		return (int((p.X-box.Lo.X)/side)*ny+int((p.Y-box.Lo.Y)/side))*nz + int((p.Z-box.Lo.Z)/side)
	}
	sums := make([]geom.Vec, across(box.Lo.X, box.Hi.X)*ny*nz)
	for i := range in.Field.State {
		if in.counts(i) {
			c := cube(in.Points[i])
			sums[c] = sums[c].AddScaled(in.weight(i), in.Normals[i])
		}
	}
	for c := range sums {
		sums[c] = sums[c].Unit()
	}
	out := make([]bool, len(in.Field.State))
	for i := range out {
		out[i] = in.counts(i) && in.Normals[i].Dot(sums[cube(in.Points[i])]) < turnedCos
	}
	return out
}
