package closure

import (
	"math"
	"slices"

	"shutline/deviation/verdict"
	"shutline/mesh/geom"
)

// bin is what is averaged before anything is counted as independent, mm: scanners' noise hangs together over some 6 mm.
const bin = 12.0

// fewestBins of a patch, below which it has no number: half of a patch that is seen whole.
const fewestBins = 8

// reading is one distance between the skins.
type reading struct {
	at, n geom.Vec
	step  float64 // mm
	area  float64 // mm²
}

// sums of readings.
type sums struct {
	at, n geom.Vec
	step  float64
	area  float64
	key   [3]int32
	side  int8
}

func (s *sums) add(r *reading) {
	s.at, s.n = s.at.AddScaled(r.area, r.at), s.n.AddScaled(r.area, r.n)
	s.step += float64(r.area * r.step)
	s.area += r.area
}

// sideOf returns which way a normal looks: 0 to 5.
func sideOf(n geom.Vec) int8 {
	side := 0
	for k := 1; k < 3; k++ {
		if math.Abs(n.At(k)) > math.Abs(n.At(side)) {
			side = k
		}
	}
	if n.At(side) < 0 {
		return int8(side + 3)
	}
	return int8(side)
}

// gather sums readings by cells of a side, in order of first appearance.
func gather(list []reading, side float64) []sums {
	type key struct {
		cell [3]int32
		side int8
	}
	at := map[key]int{}
	var out []sums
	for i := range list {
		r := &list[i]
		k := key{cellOf(r.at, side), sideOf(r.n)}
		j, ok := at[k]
		if !ok {
			j = len(out)
			at[k] = j
			out = append(out, sums{key: k.cell, side: k.side})
		}
		out[j].add(r)
	}
	return out
}

// field is the step by patches, with the standard deviation of one bin about what its patch has.
type field struct {
	patches []Patch
	bins    []int   // of each patch
	scatter float64 // mm, of a bin
	freedom int     // bins less patches
}

// fieldOf gathers readings to bins, and bins to patches. Within a patch the step is taken to be a
// plane, so that a slope of it is not taken for noise; the scatter is pooled over the patches.
func fieldOf(list []reading) field {
	small := gather(list, bin)
	rows := make([]reading, 0, len(small))
	areas := make([]float64, 0, len(small))
	for i := range small {
		s := &small[i]
		areas = append(areas, s.area)
		rows = append(rows, reading{s.at.Scale(1 / s.area), s.n.Unit(), s.step / s.area, s.area})
	}
	// Bins at a border hold too little to be as good as the others.
	slices.Sort(areas)
	half := 0.0
	if len(areas) > 0 {
		half = areas[len(areas)/2] / 3
	}
	rows = slices.DeleteFunc(rows, func(r reading) bool { return r.area < half })
	type key struct {
		cell [3]int32
		side int8
	}
	at := map[key]int{}
	var members [][]reading
	for _, r := range rows {
		k := key{cellOf(r.at, PatchSide), sideOf(r.n)}
		j, ok := at[k]
		if !ok {
			j = len(members)
			at[k] = j
			members = append(members, nil)
		}
		members[j] = append(members[j], r)
	}
	var f field
	squares := 0.0
	for _, in := range members {
		var s sums
		for i := range in {
			s.add(&in[i])
		}
		p := Patch{At: s.at.Scale(1 / s.area), N: s.n.Unit(), Area: s.area}
		p.Step.V = s.step / s.area
		if len(in) >= fewestBins {
			left := aboutPlane(in, p.At, p.N)
			squares += left
			f.freedom += len(in) - 3
			p.Step.OK = true
		}
		f.patches = append(f.patches, p)
		f.bins = append(f.bins, len(in))
	}
	if f.freedom > 0 {
		f.scatter = math.Sqrt(squares / float64(f.freedom))
	}
	for i := range f.patches {
		p := &f.patches[i]
		if p.Step.OK {
			p.Step.U = 2 * f.scatter / math.Sqrt(float64(f.bins[i]))
		} else {
			p.Step = verdict.Value{}
		}
	}
	return f
}

// aboutPlane returns the sum of squares of the steps about the plane a + b x + c y that fits
// them best, x and y square to the normal from the middle.
func aboutPlane(in []reading, middle, n geom.Vec) float64 {
	u := n.Cross(geom.Vec{X: 1})
	if math.Abs(n.X) > 0.7 {
		u = n.Cross(geom.Vec{Y: 1})
	}
	u = u.Unit()
	v := n.Cross(u)
	var m geom.Mat3
	var b geom.Vec
	row := func(r *reading) [3]float64 {
		d := r.at.Sub(middle)
		return [3]float64{1, d.Dot(u), d.Dot(v)}
	}
	for i := range in {
		j := row(&in[i])
		for x := range 3 {
			for y := range 3 {
				m[x][y] += float64(j[x] * j[y])
			}
		}
		b = b.Add(geom.Vec{X: j[0], Y: j[1], Z: j[2]}.Scale(in[i].step))
	}
	values, axes := geom.Eigen3(m)
	var x geom.Vec
	for k := range axes {
		if values[k] > 1e-9*values[2] {
			x = x.AddScaled(axes[k].Dot(b)/values[k], axes[k])
		}
	}
	sum := 0.0
	for i := range in {
		j := row(&in[i])
		e := in[i].step - float64(j[0]*x.X) - float64(j[1]*x.Y) - float64(j[2]*x.Z)
		sum += float64(e * e)
	}
	return sum
}

// mean returns the area-weighted mean of the patches that have a number, its U, and their root mean square.
func (f *field) mean() (mean verdict.Value, rms float64) {
	total, sum, square, variance := 0.0, 0.0, 0.0, 0.0
	for i := range f.patches {
		p := &f.patches[i]
		if !p.Step.OK {
			continue
		}
		total += p.Area
		sum += float64(p.Area * p.Step.V)
		square += float64(p.Area * float64(p.Step.V*p.Step.V))
		w := float64(p.Area * p.Step.U)
		variance += float64(w * w)
	}
	if total == 0 {
		return verdict.Value{}, 0
	}
	return verdict.Value{V: sum / total, U: math.Sqrt(variance) / total, OK: true}, math.Sqrt(square / total)
}

// usual returns how much the patches' steps scatter about zero beyond noise, mm: by their median, as what is off in one place is no difference of the
// whole in shape.
func (f *field) usual() float64 {
	var size, noise []float64
	for i := range f.patches {
		if p := &f.patches[i]; p.Step.OK {
			size, noise = append(size, math.Abs(p.Step.V)), append(noise, p.Step.U/2)
		}
	}
	if len(size) == 0 {
		return 0
	}
	slices.Sort(size)
	slices.Sort(noise)
	s, u := madToSigma*size[len(size)/2], noise[len(noise)/2]
	return math.Sqrt(max(float64(s*s)-float64(u*u), 0))
}

// beyondNoise returns the root mean square of the patches' steps that noise does not explain, and whether there is
// more of it than chance gives. fitted is how many unknowns were fitted to the steps before.
func (f *field) beyondNoise(fitted int) (rms float64, more bool) {
	ratio, n := 0.0, 0
	size := 0.0
	for i := range f.patches {
		p := &f.patches[i]
		if !p.Step.OK {
			continue
		}
		u := p.Step.U / 2
		ratio += float64(p.Step.V / u * (p.Step.V / u))
		size += float64(p.Step.V*p.Step.V) - float64(u*u)
		n++
	}
	if n <= fitted || f.freedom == 0 {
		return 0, false
	}
	freedom := float64(n - fitted)
	// A ratio of two variances scatters about 1 by the root of 2/a + 2/b.
	limit := 1 + float64(chanceSigmas*math.Sqrt(2/freedom+2/float64(f.freedom)))
	rms = math.Sqrt(max(size, 0) / float64(n))
	return rms, ratio/freedom > limit && rms > leastShape
}

const (
	// chanceSigmas: by chance once in some 200 overlaps, as the ratio has a long upper tail.
	chanceSigmas = 4.0
	// leastShape in mm: less is nothing to act on, and no better than the facets of a scan at 1.5 mm on a radius of 50.
	leastShape = 0.02
)
