package bench

import (
	"reflect"
	"slices"

	"shutline/app/inspection"
	"shutline/deviation/gapflush"
)

// clone returns a copy that shares nothing that can be changed.
func clone(i *inspection.Inspection) *inspection.Inspection {
	c := *i
	if i.Reference != nil {
		r := *i.Reference
		c.Reference = &r
	}
	c.Seams = slices.Clone(i.Seams)
	for k := range c.Seams {
		c.Seams[k].Path = slices.Clone(c.Seams[k].Path)
	}
	c.SeamPictures = slices.Clone(i.SeamPictures)
	c.SeamLaying = slices.Clone(i.SeamLaying)
	c.Surface.Views = slices.Clone(i.Surface.Views)
	c.Nominals = slices.Clone(i.Nominals)
	c.Limits = slices.Clone(i.Limits)
	c.Stretches = slices.Clone(i.Stretches)
	c.Lengths = slices.Clone(i.Lengths)
	for k := range c.Lengths {
		if e := c.Lengths[k].Ends; e != nil {
			ends := *e
			c.Lengths[k].Ends = &ends
		}
	}
	if i.Plan != nil {
		plan := *i.Plan
		plan.Seen = slices.Clone(plan.Seen)
		c.Plan = &plan
	}
	c.Sections = slices.Clone(i.Sections)
	c.Place.Datums, c.Place.Pairs, c.Place.Regions = slices.Clone(i.Place.Datums), slices.Clone(i.Place.Pairs), slices.Clone(i.Place.Regions)
	c.Points = slices.Clone(i.Points)
	c.Pieces, c.Markers = slices.Clone(i.Pieces), slices.Clone(i.Markers)
	c.Defaulted = slices.Clone(i.Defaulted)
	return &c
}

// firstChanged returns the earliest stage whose result depends on a difference
// between two jobs; Evidence when only wording or pictures differ.
func firstChanged(a, b *inspection.Inspection) Stage {
	switch {
	case !sameMeshes(a, b):
		return Parts
	case !reflect.DeepEqual(a.Place, b.Place):
		return Place
	case a.Surface.Reach != b.Surface.Reach || a.Surface.Tolerance != b.Surface.Tolerance ||
		a.Surface.HasShare != b.Surface.HasShare || a.Surface.Share != b.Surface.Share || a.Surface.DriftTakenOut != b.Surface.DriftTakenOut || !reflect.DeepEqual(a.Points, b.Points):
		return Surface
	case a.Scan.Travelled != b.Scan.Travelled || !reflect.DeepEqual(a.Lengths, b.Lengths) || !reflect.DeepEqual(a.Plan, b.Plan):
		return Trust
	case !reflect.DeepEqual(a.Seams, b.Seams) ||
		!reflect.DeepEqual(a.SeamLaying, b.SeamLaying) || !reflect.DeepEqual(a.Nominals, b.Nominals) || !reflect.DeepEqual(a.Limits, b.Limits) || !reflect.DeepEqual(a.Stretches, b.Stretches) || !reflect.DeepEqual(a.Sections, b.Sections):
		return Seams
	}
	return Evidence
}

// saySame reports whether two jobs say the same, but for what saving adds: their file and which meshes they were.
func saySame(x, y *inspection.Inspection) bool {
	x, y = clone(x), clone(y)
	for _, i := range []*inspection.Inspection{x, y} {
		i.Path, i.SHA256, i.Defaulted, i.Scan.SHA256 = "", "", nil, ""
		if i.Reference != nil {
			i.Reference.SHA256 = ""
		}
	}
	return reflect.DeepEqual(x, y)
}

// sameMeshes reports whether two jobs read the same meshes in the same way; which
// files they were when a job was saved changes nothing.
func sameMeshes(a, b *inspection.Inspection) bool {
	x, y := a.Scan, b.Scan
	x.SHA256, y.SHA256 = "", ""
	x.Travelled, y.Travelled = 0, 0 // which only the trust in the scan hangs on
	if x != y || !reflect.DeepEqual(a.Pieces, b.Pieces) || !reflect.DeepEqual(a.Markers, b.Markers) || (a.Reference == nil) != (b.Reference == nil) {
		return false
	}
	if a.Reference == nil {
		return true
	}
	r, s := *a.Reference, *b.Reference
	r.SHA256, s.SHA256 = "", ""
	return r == s
}

// seamsDepend reports whether seams must be measured again after a change at
// stage from: they stand on the parts and the placement. What the trust in the scan
// says of its scale is looked at when it has been found.
func seamsDepend(from Stage, before, after *inspection.Inspection) bool {
	return from <= Place || !reflect.DeepEqual(before.Seams, after.Seams) ||
		!reflect.DeepEqual(before.SeamLaying, after.SeamLaying) || !reflect.DeepEqual(before.Nominals, after.Nominals) || !reflect.DeepEqual(before.Limits, after.Limits) || !reflect.DeepEqual(before.Stretches, after.Stretches) || !reflect.DeepEqual(before.Sections, after.Sections)
}

// sameSeam reports whether a result was measured with exactly these settings.
func sameSeam(a, b gapflush.Seam) bool { return reflect.DeepEqual(a, b) }
