package meshio

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"shutline/mesh/geom"
	"shutline/mesh/parallel"
)

// Unit is a length unit of a file.
type Unit string

// The units a file can be in. UnitUnknown asks for the format's own, or a judgement.
const (
	UnitUnknown Unit = ""
	Millimetre  Unit = "mm"
	Centimetre  Unit = "cm"
	Metre       Unit = "m"
	Inch        Unit = "in"
)

// units lists the units a file can be in.
var units = [...]Unit{Millimetre, Centimetre, Metre, Inch}

// Units returns the units a file can be in.
func Units() []Unit { return append([]Unit(nil), units[:]...) }

// MM returns the length of one unit in millimetres, 0 for an unknown one.
func (u Unit) MM() float64 {
	switch u {
	case Millimetre:
		return 1
	case Centimetre:
		return 10
	case Metre:
		return 1000
	case Inch:
		return 25.4
	}
	return 0
}

func (u Unit) check() error {
	if u == UnitUnknown || u.MM() > 0 {
		return nil
	}
	return fmt.Errorf("meshio: unit %q is not known; write mm, cm, m or in", string(u))
}

const (
	// The largest side of a plausible part, in mm: from a fuel flap to a long van's side.
	smallestPartMM, largestPartMM = 50, 8000
	// besideFactor is how far the diagonals of scan and reference may differ.
	besideFactor = 2
	// maxCoordinateMM: at 1000 km from the origin float64 still resolves 1e-7 mm;
	// nothing measured lies farther, and squares and cubes of it stay far from overflow.
	maxCoordinateMM = 1e9
)

// Reading is one unit and the size the part would have.
type Reading struct {
	Unit Unit
	Size geom.Vec // mm
}

// UnitError says that a file's unit cannot be told: none or several are
// plausible. Then Readings holds the plausible ones, or all when none is.
type UnitError struct {
	Path      string
	Readings  []Reading
	Plausible bool    // several are plausible; else none is
	BesideMM  float64 // diagonal of the reference it was judged by, or 0
}

// All returns the readings of every unit, those that speak for it first.
func (e *UnitError) All() []Reading {
	all := append([]Reading(nil), e.Readings...)
	for _, u := range units {
		if len(e.Readings) > 0 && !slices.ContainsFunc(e.Readings, func(r Reading) bool { return r.Unit == u }) {
			all = append(all, Reading{u, e.Readings[0].Size.Scale(u.MM() / e.Readings[0].Unit.MM())})
		}
	}
	return all
}

func (e *UnitError) Error() string {
	parts := make([]string, len(e.Readings))
	for i, r := range e.Readings {
		parts[i] = fmt.Sprintf("%s (%s mm)", r.Unit, SizeText(r.Size))
	}
	why := "none of these is plausible for a part of 50 mm to 8 m"
	if e.Plausible {
		why = "each of these is plausible"
	}
	if e.BesideMM > 0 {
		why += fmt.Sprintf(" beside a reference with a diagonal of %.4g mm", e.BesideMM)
	}
	first := Millimetre
	if len(e.Readings) > 0 {
		first = e.Readings[0].Unit
	}
	return fmt.Sprintf("meshio: %s: the unit cannot be told: %s: %s;\nwrite units = %q, or another of mm, cm, m, in, in the inspection file, say it with --units where there is none, or choose in the window",
		e.Path, why, strings.Join(parts, ", "), string(first))
}

// SizeText writes a size as "1200 x 540 x 310", to about four digits.
func SizeText(v geom.Vec) string {
	return fmt.Sprintf("%s x %s x %s", short(v.X), short(v.Y), short(v.Z))
}

func short(x float64) string {
	if x >= 1000 && x < 1e7 {
		return fmt.Sprintf("%.0f", x)
	}
	return fmt.Sprintf("%.4g", x)
}

// judgeUnit tells the unit of a file by the size of its box.
func judgeUnit(path string, size geom.Vec, beside *geom.Box) (Unit, error) {
	e := &UnitError{Path: path}
	if beside != nil {
		e.BesideMM = beside.Diagonal()
	}
	var all []Reading
	for _, u := range units {
		r := Reading{u, size.Scale(u.MM())}
		all = append(all, r)
		if r.plausible(e.BesideMM) {
			e.Readings = append(e.Readings, r)
		}
	}
	if len(e.Readings) == 1 {
		return e.Readings[0].Unit, nil
	}
	if e.Plausible = len(e.Readings) > 0; !e.Plausible {
		e.Readings = all
	}
	return UnitUnknown, e
}

func (r Reading) plausible(besideMM float64) bool {
	if besideMM > 0 {
		return AlikeInSize(r.Size.Norm(), besideMM)
	}
	return IsPartSize(r.Size)
}

// IsPartSize reports whether a box of that size, in mm, can hold a vehicle part: its
// largest side is between 50 mm and 8 m.
func IsPartSize(size geom.Vec) bool {
	side := max(size.X, size.Y, size.Z)
	return side >= smallestPartMM && side <= largestPartMM
}

// AlikeInSize reports whether two diagonals are so alike, within a factor of 2, that they speak for
// a unit.
func AlikeInSize(a, b float64) bool { return a <= besideFactor*b && b <= besideFactor*a }

// finish settles the unit, turns the mesh into millimetres and joins what was asked for.
func (d *decoded) finish(ctx context.Context, o Options) error {
	if d.box == (geom.Box{}) {
		var err error
		if d.box, err = boxOf(ctx, d.Mesh.Vertices, o.Threads); err != nil {
			return err
		}
	}
	box := d.box
	d.Unit, d.UnitSource = o.Unit, "stated"
	switch {
	case o.Unit != UnitUnknown:
	case d.formatUnit != UnitUnknown:
		d.Unit, d.UnitSource = d.formatUnit, "format"
	default:
		u, err := judgeUnit(d.Path, box.Size(), o.Beside)
		if err != nil {
			return err
		}
		d.Unit, d.UnitSource = u, "judged"
	}
	scale := d.Unit.MM()
	for _, x := range [...]float64{box.Lo.X, box.Lo.Y, box.Lo.Z, box.Hi.X, box.Hi.Y, box.Hi.Z} {
		if math.Abs(x)*scale > maxCoordinateMM {
			return &FormatError{Path: d.Path, Byte: -1, Problem: fmt.Sprintf(
				"a coordinate of %g %s lies beyond the limit of 1e9 mm; check the unit, or export it again", x, d.Unit)}
		}
	}
	if v := d.Mesh.Vertices; scale != 1 {
		err := parallel.Chunks(ctx, len(v), 1<<16, o.Threads, nil, func(_, _, lo, hi int) {
			for i := lo; i < hi; i++ {
				v[i] = v[i].Scale(scale)
			}
		})
		if err != nil {
			return err
		}
	}
	if o.Join > 0 {
		return d.joinNear(ctx, o.Join)
	}
	return nil
}

// boxOf returns the box of finite points.
func boxOf(ctx context.Context, v []geom.Vec, threads int) (geom.Box, error) {
	const run = 1 << 16
	boxes := make([]geom.Box, (len(v)+run-1)/run)
	err := parallel.Chunks(ctx, len(v), run, threads, nil, func(_, c, lo, hi int) {
		boxes[c] = geom.BoxOf(v[lo:hi])
	})
	return joined(boxes), err
}

func joined(boxes []geom.Box) geom.Box {
	all := geom.EmptyBox()
	for _, b := range boxes {
		all = all.Union(b)
	}
	return all
}
