package app

import (
	"fmt"

	"shutline/app/inspection"
	"shutline/mesh/meshio"
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
	if meshio.IsPartSize(size) {
		return nil
	}
	if beside != nil && l.UnitSource == "stated" {
		for _, u := range meshio.Units() {
			if u == l.Unit || !meshio.AlikeInSize(size.Norm()*u.MM()/l.Unit.MM(), beside.Mesh.Bounds().Diagonal()) {
				continue
			}
			return &InputError{Path: l.Path, Problem: fmt.Sprintf(
				"its unit is stated as %q, which gives a part of %s mm, no vehicle part's size; with %q it would be about as large as what it is compared with; write units = %q in [%s]",
				string(l.Unit), meshio.SizeText(size), string(u), string(u), section)}
		}
	}
	how := fmt.Sprintf("its unit, %q,", string(l.Unit))
	if l.UnitSource == "stated" {
		how = fmt.Sprintf("units = %q", string(l.Unit))
	}
	parts.Notes = append(parts.Notes, fmt.Sprintf("%s: %s gives a part of %s mm, no vehicle part's size (50 mm to 8 m); check its unit",
		section, how, meshio.SizeText(size)))
	return nil
}
