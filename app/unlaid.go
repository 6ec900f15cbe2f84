package app

import (
	"cmp"
	"reflect"
	"slices"
	"sort"
	"weak"

	"shutline/app/inspection"
	"shutline/deviation/gapflush"
	"shutline/deviation/seamfind"
	"shutline/mesh/geom"
)

// AsFiled returns an inspection whose seams were laid as its file has to say it: what was traced, found or has
// stretches is again, with the settings it has now, where laying it anew gives the seams that are there; else these are written out
// with their paths. fixed names the seams of the file that are, but for traced ones that were drawn anew. An inspection that was not laid is returned as it is.
func AsFiled(i *inspection.Inspection) (file *inspection.Inspection, fixed []string) {
	if i.Laid == nil {
		return i, nil
	}
	u := unlayerOf(i)
	for k := range u.laid.File.Seams {
		if u.special(k) && !u.keep[k] && u.there(k) {
			fixed = append(fixed, u.laid.File.Seams[k].Name)
		}
	}
	return u.file(), fixed
}

// OfWholes returns an inspection whose seams know of what they are parts as its file will say it: stretches of a seam that
// is written out are seams of their own, whose stations are counted from their own beginning; where nothing stands against it
// any more they are parts of the whole again.
func OfWholes(i *inspection.Inspection) *inspection.Inspection {
	if i.Laid == nil {
		return i
	}
	out := *i
	out.Seams = slices.Clone(i.Seams)
	part := func(n int, of gapflush.Seam) {
		s := &out.Seams[n]
		s.Whole, s.From, s.Before = of.Whole, of.From, of.Before
	}
	u := unlayerOf(&out) // which seams are which hangs on nothing of this
	for n, m := range u.piece {
		if m >= 0 {
			part(n, i.Laid.Made.Seams[m])
		}
	}
	u = unlayerOf(&out)
	for n, m := range u.piece {
		if m < 0 || !u.keep[i.Laid.Of[m]] {
			part(n, gapflush.Seam{})
		}
	}
	return &out
}

// PathsOf returns how the paths of an inspection's seams came about, as for the headless command that reads its file; nil
// where the file has every path.
func PathsOf(i *inspection.Inspection) []SeamPath {
	if i.Laid == nil {
		return nil
	}
	u := unlayerOf(i)
	if u.file().Complete() {
		return nil
	}
	all := pathsOf(i)
	for n, piece := range u.piece {
		if piece >= 0 && u.keep[u.laid.Of[piece]] {
			all[n] = u.laid.Paths[piece]
			all[n].Seam = i.Seams[n].Name
		}
	}
	return all
}

// LaidOn reports whether an inspection's seams were laid on the mesh that they would be laid on now, as far as they were laid,
// and the points of none that could not be traced have changed since.
func LaidOn(i *inspection.Inspection, parts *Parts, placed *Placed) bool {
	if i.Laid == nil {
		return true
	}
	return i.Laid.On == weak.Make(layerOf(i, parts, placed, Settings{}).mesh) && !unlayerOf(i).again
}

// laidAs returns how the path of a seam of an inspection came about; ok is false for one that stands in the file so.
func laidAs(i *inspection.Inspection, seam gapflush.Seam) (path SeamPath, ok bool) {
	if i.Laid == nil {
		return path, false
	}
	for m, made := range i.Laid.Made.Seams {
		if slices.Equal(made.Path, seam.Path) && (!ok || made.Name == seam.Name) {
			path, ok = i.Laid.Paths[m], true
		}
	}
	return path, ok && path.Laying != inspection.Typed
}

// typedPoints returns the points of a file's seam that a path was traced from, or of which it is a stretch; nil where the path is as it
// was typed.
func typedPoints(i *inspection.Inspection, seam gapflush.Seam) []geom.Vec {
	if i.Laid == nil {
		return nil
	}
	for m, made := range i.Laid.Made.Seams {
		of := i.Laid.File.Seams[i.Laid.Of[m]].Path
		if made.Name == seam.Name && slices.Equal(made.Path, seam.Path) && !slices.Equal(of, seam.Path) && len(of) > 1 {
			return of
		}
	}
	return nil
}

// unlayer finds out which seams of a file what is measured still stands for.
type unlayer struct {
	i     *inspection.Inspection
	laid  *inspection.Laid
	piece []int // of each seam, which of those made it is; -1: another one
	now   []int // of each that was made, the seam; -1: gone or drawn anew
	keep  []bool
	again bool // a seam that could not be traced has other points now
}

func unlayerOf(i *inspection.Inspection) *unlayer {
	u := &unlayer{i: i, laid: i.Laid, keep: make([]bool, len(i.Laid.File.Seams))}
	u.match()
	for k := range u.keep {
		switch {
		case !u.special(k):
		case u.refused(k):
			u.keep[k] = u.whole(k)
		case u.laid.File.LayingOf(k) == inspection.Found:
		case len(u.laid.File.StretchesOf(u.laid.File.Seams[k].Name)) > 0:
			u.keep[k] = u.untouched(k)
		default:
			u.keep[k] = u.whole(k)
		}
	}
	for k := range u.keep { // what is found hangs on the other seams
		if u.laid.File.LayingOf(k) == inspection.Found && !u.refused(k) {
			u.keep[k] = u.found(k)
		}
	}
	return u
}

// match tells seams by their paths, and where two have the same one by their names.
func (u *unlayer) match() {
	made := u.laid.Made.Seams
	u.piece, u.now = make([]int, len(u.i.Seams)), make([]int, len(made))
	for n := range u.piece {
		u.piece[n] = -1
	}
	for m := range made {
		u.now[m] = -1
	}
	for _, named := range []bool{true, false} {
		for m := range made {
			for n, s := range u.i.Seams {
				if u.now[m] < 0 && u.piece[n] < 0 && (!named || s.Name == made[m].Name) && slices.Equal(s.Path, made[m].Path) {
					u.now[m], u.piece[n] = n, m
				}
			}
		}
	}
	for m := range made { // one that could not be traced is still to be, by its other points
		if u.now[m] >= 0 || u.laid.Paths[m].Why == "" || u.laid.Paths[m].Laying != inspection.Traced {
			continue
		}
		for n, s := range u.i.Seams {
			if u.now[m] < 0 && u.piece[n] < 0 && s.Name == made[m].Name {
				u.now[m], u.piece[n], u.again = n, m, true
			}
		}
	}
}

// refused reports whether seam k of the file could not be laid at all.
func (u *unlayer) refused(k int) bool {
	p := u.pieces(k)
	return len(p) == 1 && u.laid.Paths[p[0]].Why != ""
}

// special reports whether seam k of the file is not measured as it stands there.
func (u *unlayer) special(k int) bool {
	f := u.laid.File
	return f.LayingOf(k) != inspection.Typed || len(f.StretchesOf(f.Seams[k].Name)) > 0
}

// pieces returns what seam k of the file was made to.
func (u *unlayer) pieces(k int) (list []int) {
	for m, of := range u.laid.Of {
		if of == k {
			list = append(list, m)
		}
	}
	return list
}

// there reports whether a path that seam k of the file was laid to is still measured.
func (u *unlayer) there(k int) bool {
	return slices.ContainsFunc(u.pieces(k), func(m int) bool { return u.now[m] >= 0 })
}

// whole reports whether every seam that seam k of the file was made to is there.
func (u *unlayer) whole(k int) bool {
	return !slices.ContainsFunc(u.pieces(k), func(m int) bool { return u.now[m] < 0 })
}

// untouched reports whether every seam that seam k of the file was made to is as it was made.
func (u *unlayer) untouched(k int) bool {
	return u.whole(k) && !slices.ContainsFunc(u.pieces(k), func(m int) bool {
		return !reflect.DeepEqual(settingsOf(u.laid.Made, m), settingsOf(u.i, u.now[m]))
	})
}

// settings are all that is said of a seam.
type settings struct {
	seam     gapflush.Seam
	picture  string
	nominals []inspection.NominalFrom
	limits   []inspection.SeamLimits
}

func settingsOf(i *inspection.Inspection, k int) settings {
	s := settings{seam: i.Seams[k]}
	if k < len(i.SeamPictures) {
		s.picture = i.SeamPictures[k]
	}
	for _, n := range i.Nominals {
		if n.Seam == s.seam.Name {
			s.nominals = append(s.nominals, n)
		}
	}
	for _, l := range i.Limits {
		if l.Seam == s.seam.Name {
			s.limits = append(s.limits, l)
		}
	}
	return s
}

// called returns settings as those of a seam of another name and path.
func (s settings) called(name string, path []geom.Vec) settings {
	s.seam.Name, s.seam.Path = name, path
	s.nominals, s.limits = slices.Clone(s.nominals), slices.Clone(s.limits)
	for n := range s.nominals {
		s.nominals[n].Seam = name
	}
	for n := range s.limits {
		s.limits[n].Seam = name
	}
	return s
}

// found reports whether a search among the seams of now gives what seam k of the file was made to, all with the same settings.
func (u *unlayer) found(k int) bool {
	f := u.laid.File
	if !u.whole(k) {
		return false
	}
	parted := len(f.StretchesOf(f.Seams[k].Name)) > 0
	if parted && !u.untouched(k) {
		return false
	}
	taken, there := u.others(k)
	var names []string
	for _, line := range u.laid.Lines {
		if (seamfind.Beside(line.Path, there) >= 0) != line.There {
			return false
		}
		if !line.There {
			names = append(names, freeName(line.Name, taken))
		}
	}
	var first settings
	for n, m := range u.pieces(k) {
		own := u.i.Seams[u.now[m]]
		name := cmp.Or(own.Whole, own.Name)
		if !slices.Contains(names, name) || name != u.madeName(m) {
			return false
		}
		s := settingsOf(u.i, u.now[m]).called(f.Seams[k].Name, nil)
		if n == 0 {
			first = s
		}
		if !parted && !reflect.DeepEqual(s, first) {
			return false
		}
	}
	return true
}

// madeName returns the name of the whole seam that the one made was a part of.
func (u *unlayer) madeName(m int) string {
	s := u.laid.Made.Seams[m]
	return cmp.Or(s.Whole, s.Name)
}

// others returns the names and paths of the seams among which seam k of the file is found.
func (u *unlayer) others(k int) (taken map[string]bool, there [][]geom.Vec) {
	taken = map[string]bool{}
	for of := range u.keep {
		if of != k && u.keep[of] && u.laid.Whole[of].Why != "" { // a search finds what could not be traced
			taken[u.i.Seams[u.now[u.pieces(of)[0]]].Name] = true
			continue
		}
		if of != k && u.keep[of] && u.laid.Whole[of].Path != nil {
			name := u.laid.Whole[of].Seam
			if p := u.pieces(of); len(p) == 1 && u.i.Seams[u.now[p[0]]].Whole == "" {
				name = u.i.Seams[u.now[p[0]]].Name // a traced one may be renamed
			}
			taken[name] = true
			there = append(there, u.laid.Whole[of].Path)
		}
	}
	for n, s := range u.i.Seams {
		m := u.piece[n]
		if m >= 0 && (u.laid.Of[m] == k || u.keep[u.laid.Of[m]]) {
			continue
		}
		taken[s.Name] = true
		there = append(there, s.Path)
	}
	return taken, there
}

// file puts the seams together as the file has to say them, in their order.
func (u *unlayer) file() *inspection.Inspection {
	f := u.laid.File
	out := *u.i
	out.Laid = nil
	type entry struct {
		at     float64
		laying inspection.Laying
		settings
		stretches []inspection.Stretch
	}
	var list []entry
	for n := range u.i.Seams {
		if m := u.piece[n]; m < 0 || !u.keep[u.laid.Of[m]] {
			list = append(list, entry{at: float64(n), settings: settingsOf(u.i, n)})
		}
	}
	at := -0.5 // right behind the seam before, for one that found nothing
	for k, s := range f.Seams {
		pieces := u.pieces(k)
		for _, m := range pieces {
			if u.now[m] >= 0 {
				at = float64(u.now[m])
			}
		}
		if !u.keep[k] {
			at += 0.25
			continue
		}
		e := entry{at: at, laying: f.LayingOf(k), stretches: f.StretchesOf(s.Name)}
		if len(pieces) > 0 {
			e.at = float64(u.now[pieces[0]])
		}
		switch {
		case u.refused(k):
			own := settingsOf(u.i, u.now[pieces[0]])
			path := s.Path
			if e.laying == inspection.Traced && !slices.Equal(own.seam.Path, u.laid.Made.Seams[pieces[0]].Path) {
				path = own.seam.Path
			}
			e.settings = own.called(own.seam.Name, path)
			e.stretches = slices.Clone(e.stretches)
			for n := range e.stretches {
				e.stretches[n].Seam = own.seam.Name
			}
		case len(e.stretches) > 0 || len(pieces) == 0:
			e.settings = settingsOf(f, k)
		default:
			own := settingsOf(u.i, u.now[pieces[0]])
			name := own.seam.Name
			if e.laying == inspection.Found {
				name = s.Name
			}
			e.settings = own.called(name, s.Path)
		}
		at = e.at + 0.25
		list = append(list, e)
	}
	sort.SliceStable(list, func(a, b int) bool { return list[a].at < list[b].at })
	out.Seams, out.SeamPictures, out.SeamLaying = nil, nil, nil
	out.Nominals, out.Limits, out.Stretches = nil, nil, nil
	for _, e := range list {
		out.Seams = append(out.Seams, e.seam)
		if e.picture != "" {
			out.SeamPictures = append(out.SeamPictures, e.picture)
		}
		out.SeamLaying = append(out.SeamLaying, e.laying)
		out.Nominals, out.Limits = append(out.Nominals, e.nominals...), append(out.Limits, e.limits...)
		out.Stretches = append(out.Stretches, e.stretches...)
	}
	for k := range out.Nominals {
		out.Nominals[k].Loose = false
	}
	if out.AllTyped() {
		out.SeamLaying = nil
	}
	return &out
}
