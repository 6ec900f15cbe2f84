package app

import (
	"fmt"

	"shutline/app/inspection"
	"shutline/mesh/meshio"
)

const (
	// A part of which no side reaches 50 mm, or one over 8 m long, is no vehicle part (definitions.md, units).
	smallestPart, largestPart = 50.0, 8000.0
	// sameSize is how far the diagonals of a scan and its reference may differ and still speak for the unit.
	sameSize = 2.0
)

// checkUnits refuses a stated unit that is a slip: the part would be of no vehicle's
// size, and another unit makes scan and reference agree. A size that is odd
// without such a proof is noted.
func (parts *Parts) checkUnits(i *inspection.Inspection) error {
	if parts.Reference == nil {
		return parts.checkUnit("scan", parts.Scan, nil)
	}
	if err := parts.checkUnit("scan", parts.Scan, parts.Reference); err != nil {
		return err
	}
	return parts.checkUnit("reference", parts.Reference, parts.Scan)
}

func (parts *Parts) checkUnit(section string, l, beside *meshio.Loaded) error {
	size := l.Mesh.Bounds().Size()
	if side := max(size.X, size.Y, size.Z); side >= smallestPart && side <= largestPart {
		return nil
	}
	if beside != nil && l.UnitSource == "stated" {
		d, other := size.Norm(), beside.Mesh.Bounds().Diagonal()
		for _, u := range []meshio.Unit{meshio.Millimetre, meshio.Centimetre, meshio.Metre, meshio.Inch} {
			as := d * u.MM() / l.Unit.MM()
			if u == l.Unit || as > sameSize*other || other > sameSize*as {
				continue
			}
			return &InputError{Path: l.Path, Problem: fmt.Sprintf(
				"its unit is stated as %s, in which it measures %s mm, no vehicle part's size; in %s it would be about as large as what it is compared with; write units = %q in [%s]",
				l.Unit, meshio.SizeText(size), u, string(u), section)}
		}
	}
	parts.Notes = append(parts.Notes, fmt.Sprintf("%s: in %s it measures %s mm, no vehicle part's size (50 mm to 8 m); check its unit",
		section, l.Unit, meshio.SizeText(size)))
	return nil
}
