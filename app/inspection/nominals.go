package inspection

import "slices"

// OtherSide stands, as a nominal's source, for the same seam on the other side of the
// body: the one whose path lies mirrored in the plane y = 0.
const OtherSide = "other side"

// NominalFrom says that a seam's gap or flush is to be what another seam's is.
type NominalFrom struct {
	Seam  string // whose nominal it is
	Flush bool   // of the flush, else of the gap
	From  string // the other seam's name, or OtherSide
	Loose bool   // of a seam that was found by itself: where it has no partner it goes without this nominal
}

// nominalFrom reads gap.nominal_from and flush.nominal_from.
func (r *reader) nominalFrom(t table, seam string) {
	for k, key := range []string{"gap", "flush"} {
		m, _ := t.m[key].(map[string]any)
		if _, ok := m["nominal_from"]; !ok {
			continue
		}
		s := table{d: r.document, path: joined(t.path, key), m: m}
		from := s.text("nominal_from", "")
		at := joined(s.path, "nominal_from")
		switch {
		case s.has("nominal"):
			r.fail(at, "gives the %s a second nominal; leave nominal or nominal_from out", key)
		case from == seam:
			r.fail(at, "a seam is no nominal for itself; name another seam, or %q", OtherSide)
		}
		r.nominals = append(r.nominals, NominalFrom{Seam: seam, Flush: k == 1, From: from})
	}
}

// checkNominals refuses sources that are no seams. Where seams are to be found, their names are not known yet.
func (r *reader) checkNominals(i *Inspection) {
	var names []string
	found := false
	for k, s := range i.Seams {
		names = append(names, s.Name)
		found = found || i.LayingOf(k) == Found
	}
	for _, n := range i.Nominals {
		if n.From == OtherSide || found || contains(names, n.From) {
			continue
		}
		at := "seam"
		for k, s := range i.Seams {
			if s.Name == n.Seam {
				at = joined(joined(indexed("seam", k), map[bool]string{false: "gap", true: "flush"}[n.Flush]), "nominal_from")
			}
		}
		others := slices.DeleteFunc(slices.Clone(names), func(name string) bool { return name == n.Seam })
		if len(others) == 0 {
			r.fail(at, "there is no seam %q, nor any other here that could be one's nominal; write %q, or give the other seam a [[seam]] of its own", n.From, OtherSide)
			continue
		}
		r.fail(at, "there is no seam %q; write %q or one of %s", n.From, OtherSide, quoted(others)+meant(n.From, others))
	}
}

// nominalOf returns the source of a seam's nominal, "" for none.
func (i *Inspection) nominalOf(seam string, flush bool) string {
	for _, n := range i.Nominals {
		if n.Seam == seam && n.Flush == flush {
			return n.From
		}
	}
	return ""
}

// RenameSeam gives seam k another name, wherever it is named.
func (i *Inspection) RenameSeam(k int, name string) {
	old := i.Seams[k].Name
	i.Seams[k].Name = name
	for n := range i.Nominals {
		if i.Nominals[n].Seam == old {
			i.Nominals[n].Seam = name
		}
		if i.Nominals[n].From == old {
			i.Nominals[n].From = name
		}
	}
	for n := range i.Stretches {
		if i.Stretches[n].Seam == old {
			i.Stretches[n].Seam = name
		}
	}
	for n := range i.Limits {
		if i.Limits[n].Seam == old {
			i.Limits[n].Seam = name
		}
	}
}

// RemoveSeam takes seam k out, and the nominals that came from it.
func (i *Inspection) RemoveSeam(k int) {
	name := i.Seams[k].Name
	i.Nominals = slices.DeleteFunc(i.Nominals, func(n NominalFrom) bool { return n.Seam == name || n.From == name })
	if len(i.Nominals) == 0 {
		i.Nominals = nil
	}
	i.Stretches = slices.DeleteFunc(i.Stretches, func(s Stretch) bool { return s.Seam == name })
	i.Limits = slices.DeleteFunc(i.Limits, func(l SeamLimits) bool { return l.Seam == name })
	i.Seams = slices.Delete(i.Seams, k, k+1)
	if k < len(i.SeamPictures) {
		i.SeamPictures = slices.Delete(i.SeamPictures, k, k+1)
	}
	if k < len(i.SeamLaying) {
		i.SeamLaying = slices.Delete(i.SeamLaying, k, k+1)
	}
}
