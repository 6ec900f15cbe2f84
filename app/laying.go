package app

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"weak"

	"shutline/app/inspection"
	"shutline/deviation/gapflush"
	"shutline/deviation/seamfind"
	"shutline/deviation/seampath"
	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/surface"
)

// SeamPath is a seam's path and how it came about.
type SeamPath = inspection.LaidPath

const (
	// pathWithin is how near the points that are kept follow the path laid, mm: far
	// under what a station's place beside the gap's middle may be.
	pathWithin = 0.05
	// typedSlack is how far beside a gap a point of a traced path may be typed, mm, and still mean it.
	typedSlack = 8.0
	// leastTraced is the share of a traced path on which the gap must be seen: webs
	// and hems that were not seen hide less than half of a shut line that can be measured.
	leastTraced = 0.4
	// mostLost is the longest stretch of a traced path without a gap, mm: over a web, a
	// hole or a hem that was not seen, under the distance of two shut lines of a body.
	mostLost = 200.0
	// mostBeside is how far a typed point may lie from the path it led to, mm.
	mostBeside = 25.0
)

// LaySeams returns the inspection with the paths of all its seams: those to be
// traced follow the gap between their points, and the one to be found becomes one
// seam, with its settings, for each shut line that no other seam runs along. They are laid on the
// reference, without one on the scan, in the reference's frame. An inspection whose
// seams are all typed, without stretches, is returned as it is.
//
// A seam that cannot be traced or found, as its points are not on a gap, keeps its points, and its path says why: the
// others are laid all the same, and [MeasureSeam] gives it no value. The error is an [InputError] for what the
// inspection alone shows to be wrong, or the context's.
func LaySeams(ctx context.Context, i *inspection.Inspection, parts *Parts, placed *Placed, s Settings, p Progress) (*inspection.Inspection, []SeamPath, error) {
	if i.Complete() {
		return i, pathsOf(i), nil
	}
	if err := needFaces(i, parts); err != nil {
		return nil, nil, err
	}
	l := layerOf(i, parts, placed, s)
	if !i.AllTyped() {
		if err := l.makeGround(ctx, p.part("looking for seams", 0, 0.1)); err != nil {
			return nil, nil, err
		}
	}
	paths, err := l.paths(ctx, p)
	if err != nil {
		return nil, nil, err
	}
	out, all, err := l.seams(paths)
	if err != nil {
		return nil, nil, err
	}
	out.Laid.On = weak.Make(l.mesh)
	return out, all, ctx.Err()
}

// paths lays every seam of the inspection; one that is to be found has several paths, or none.
func (l *layer) paths(ctx context.Context, p Progress) ([][]SeamPath, error) {
	i := l.i
	var err error
	paths := make([][]SeamPath, len(i.Seams))
	for k, seam := range i.Seams {
		switch i.LayingOf(k) {
		case inspection.Typed:
			paths[k] = []SeamPath{{Seam: seam.Name, Path: seam.Path, Length: lengthOf(seam.Path)}}
		case inspection.Traced:
			paths[k], err = l.trace(ctx, k, p.part("tracing "+seam.Name, 0.1, 0.3))
			if paths[k], err = l.orWhy(k, paths[k], err); err != nil {
				return nil, err
			}
		}
	}
	for k := range i.Seams {
		if i.LayingOf(k) == inspection.Found {
			paths[k], err = l.find(ctx, k, paths, p.part("looking for seams", 0.3, 1))
			if paths[k], err = l.orWhy(k, paths[k], err); err != nil {
				return nil, err
			}
		}
	}
	return paths, nil
}

// refusal says why one seam cannot be laid: a part of a sentence, without the seam's name.
type refusal string

func (r refusal) Error() string { return string(r) }

func refuse(format string, args ...any) error { return refusal(fmt.Sprintf(format, args...)) }

// orWhy makes a refusal the path of seam k that says why there is none.
func (l *layer) orWhy(k int, paths []SeamPath, err error) ([]SeamPath, error) {
	var why refusal
	if !errors.As(err, &why) {
		return paths, err
	}
	seam := l.i.Seams[k]
	return []SeamPath{{Seam: seam.Name, Laying: l.i.LayingOf(k), Path: seam.Path, Length: lengthOf(seam.Path), Why: string(why)}}, nil
}

// seams makes the inspection's seams anew, one for each path and stretch.
func (l *layer) seams(paths [][]SeamPath) (*inspection.Inspection, []SeamPath, error) {
	i := l.i
	out := *i
	out.Seams, out.SeamPictures, out.SeamLaying = nil, nil, nil
	out.Nominals, out.Limits, out.Stretches = nil, nil, nil
	made := &inspection.Laid{File: i, Lines: l.lines}
	var all []SeamPath
	for k, list := range paths {
		made.Whole = append(made.Whole, SeamPath{})
		if i.LayingOf(k) != inspection.Found {
			made.Whole[k] = list[0]
		}
		pieces, err := l.pieces(k, list)
		if err != nil {
			return nil, nil, err
		}
		for _, piece := range pieces {
			path := piece.SeamPath
			for _, held := range i.Limits {
				if held.Seam == i.Seams[k].Name {
					held.Seam = path.Seam
					out.Limits = append(out.Limits, held)
				}
			}
			for _, n := range i.Nominals {
				if n.Seam == i.Seams[k].Name {
					n.Seam, n.Loose = path.Seam, i.LayingOf(k) == inspection.Found
					out.Nominals = append(out.Nominals, n)
				}
			}
			seam := piece.seam
			seam.Name, seam.Path = path.Seam, path.Path
			out.Seams = append(out.Seams, seam)
			if k < len(i.SeamPictures) {
				out.SeamPictures = append(out.SeamPictures, i.SeamPictures[k])
			}
			all = append(all, path)
			made.Of = append(made.Of, k)
		}
	}
	as := out
	made.Made, made.Paths = &as, all
	out.Laid = made
	return &out, all, nil
}

// piece is a path with the seam whose settings it has.
type piece struct {
	SeamPath
	seam gapflush.Seam
}

// pieces divides the paths of seam k at its stretches.
func (l *layer) pieces(k int, paths []SeamPath) (list []piece, err error) {
	seam := l.i.Seams[k]
	stretches := l.i.StretchesOf(seam.Name)
	for _, whole := range paths {
		if len(stretches) == 0 || whole.Why != "" {
			list = append(list, piece{whole, seam})
			continue
		}
		parts, err := l.stretched(k, whole, stretches)
		var why refusal
		switch {
		case errors.As(err, &why) && l.i.LayingOf(k) != inspection.Typed: // how long it is was not known to who wrote the stretches
			whole.Why = string(why)
			parts = []piece{{whole, seam}}
		case errors.As(err, &why):
			return nil, l.bad(k, "%s", why)
		}
		list = append(list, parts...)
	}
	return list, nil
}

// stretched divides a path of seam k at its stretches; the error is a [refusal].
func (l *layer) stretched(k int, whole SeamPath, stretches []inspection.Stretch) (list []piece, err error) {
	seam := l.i.Seams[k]
	before := 0
	add := func(from, to float64, own gapflush.Seam) {
		p := whole
		own.Whole, own.From, own.Before = whole.Seam, from, before
		p.Seam = fmt.Sprintf("%s, %s to %s mm", whole.Seam, tenth(from), tenth(to))
		p.Path, p.Length = between(whole.Path, from, to), to-from
		list = append(list, piece{p, own})
		before += gapflush.StationsOn(p.Path, seam.Every)
	}
	at, half := 0.0, float64(seam.Every/2)
	for _, s := range stretches {
		if s.From >= whole.Length {
			return nil, refuse("its path is %.1f mm long, so that no stretch can begin at %.6g mm", whole.Length, s.From)
		}
		if !math.IsInf(s.To, 1) && s.To > whole.Length+seam.Every && l.i.LayingOf(k) != inspection.Found {
			return nil, refuse("its path is %.1f mm long, so that no stretch can end at %.6g mm; write to = %.0f or less", whole.Length, s.To, math.Ceil(whole.Length))
		}
		to := min(s.To, whole.Length)
		if to-s.From <= half {
			return nil, refuse("the stretch from %.6g to %.6g mm holds no station, as they stand %.6g mm apart; write a longer one or a smaller every", s.From, to, seam.Every)
		}
		if s.From-at > half { // a shorter rest holds no station
			add(at, s.From, seam)
		}
		own := seam
		if s.HasGap {
			own.Gap.Judged, own.Gap.Tolerance = true, s.GapOff
			if s.OwnGap {
				own.Gap.HasNominal, own.Gap.Nominal = true, s.GapWant
			}
		}
		if s.HasFlush {
			own.Flush.Judged, own.Flush.Tolerance = true, s.FlushOff
			if s.OwnFlush {
				own.Flush.HasNominal, own.Flush.Nominal = true, s.FlushWant
			}
		}
		add(s.From, to, own)
		at = to
	}
	if whole.Length-at > half {
		add(at, whole.Length, seam)
	}
	return list, nil
}

// tenth writes a length to a tenth of a mm, a round one without.
func tenth(mm float64) string { return strconv.FormatFloat(math.Round(10*mm)/10, 'f', -1, 64) }

// between cuts a path at two lengths along it, mm.
func between(path []geom.Vec, from, to float64) []geom.Vec {
	var out []geom.Vec
	passed := 0.0
	for k := 1; k < len(path); k++ {
		long := path[k].Dist(path[k-1])
		if long == 0 {
			continue
		}
		if len(out) == 0 && from < passed+long {
			out = append(out, path[k-1].Lerp(path[k], max(0, from-passed)/long))
		}
		if to <= passed+long {
			return append(out, path[k-1].Lerp(path[k], max(0, to-passed)/long))
		}
		passed += long
		if len(out) > 0 {
			out = append(out, path[k])
		}
	}
	return out
}

// pathsOf lists typed paths.
func pathsOf(i *inspection.Inspection) []SeamPath {
	var all []SeamPath
	for _, seam := range i.Seams {
		all = append(all, SeamPath{Seam: seam.Name, Path: seam.Path, Length: lengthOf(seam.Path)})
	}
	return all
}

func lengthOf(path []geom.Vec) float64 {
	sum := 0.0
	for k := 1; k < len(path); k++ {
		sum += path[k].Dist(path[k-1])
	}
	return sum
}

// layer lays seams on one mesh.
type layer struct {
	i          *inspection.Inspection
	s          Settings
	mesh       *mesh.Mesh
	surface    *surface.Surface // of the mesh; nil until it is needed
	ground     *seamfind.Ground
	lines      []inspection.FoundLine // once they were looked for
	what, file string
	filed      *mesh.Mesh // the scan as its file has it, where the mesh is the reference
}

// layerOf lays on the reference, or without one on the placed scan.
func layerOf(i *inspection.Inspection, parts *Parts, placed *Placed, s Settings) *layer {
	l := &layer{i: i, s: s, mesh: placed.Mesh, what: "scan", file: i.Scan.File}
	if parts.Surface != nil {
		l.mesh, l.surface, l.what, l.file = parts.Mirrored, parts.Surface, "reference", i.Reference.File
		l.filed = parts.Scan.Mesh
	}
	return l
}

// makeGround makes the mesh ready for looking for seams, and for tracing them.
func (l *layer) makeGround(ctx context.Context, p mesh.Progress) (err error) {
	if l.surface != nil {
		l.ground, err = seamfind.On(ctx, l.mesh, l.surface.Tree())
	} else {
		l.ground, err = seamfind.New(ctx, l.mesh, l.s.Threads, p)
	}
	return err
}

// drawn reports whether the mesh is a drawing, whose borders are edges of panels.
func (l *layer) drawn() bool { return l.what == "reference" && !l.i.Reference.Scanned }

// trace lays seam k along the gap between its points.
func (l *layer) trace(ctx context.Context, k int, progress mesh.Progress) ([]SeamPath, error) {
	seam := l.i.Seams[k]
	var clicks []seampath.Click
	for n, at := range seam.Path {
		out, ok := l.ground.Outward(at)
		if !ok {
			far, err := distanceTo(ctx, l.mesh, at, 0)
			if err != nil {
				return nil, err
			}
			times, err := l.inUnit(ctx, seam.Path)
			if err != nil {
				return nil, err
			}
			if times != 0 {
				return nil, refuse("point %d of its path, %s, lies %.0f mm from the %s; times %g, the path would lie on it: write it in mm", n+1, place(at), far, l.what, times)
			}
			return nil, refuse("point %d of its path, %s, lies %.0f mm from the %s; put it on the gap: paths are in the %s's frame, in mm", n+1, place(at), far, l.what, l.what)
		}
		clicks = append(clicks, seampath.Click{At: at, Outward: out, Slack: typedSlack})
	}
	if l.surface == nil {
		var err error
		if l.surface, err = surface.New(ctx, l.mesh, l.s.Threads, nil); err != nil {
			return nil, err
		}
	}
	progress.Report(0.2)
	on := seampath.On(l.surface)
	on.Threads = l.s.Threads
	laid, err := on.Lay(ctx, clicks)
	if err != nil {
		return nil, err
	}
	progress.Report(0.6)
	outward, err := l.ground.Outwards(ctx, laid.Points, clicks[0].Outward, l.s.Threads)
	if err != nil {
		return nil, err
	}
	c, err := l.ground.Centre(ctx, laid.Points, outward, l.s.Threads)
	if err != nil {
		return nil, err
	}
	first, end := seam.Path[0], seam.Path[len(seam.Path)-1]
	if len(c.Path) < 2 {
		return nil, refuse("its points lie on one another; write two different points on the gap")
	}
	from, to := c.Unseen()
	if share := c.SeenShare(); share < leastTraced || to-from > mostLost {
		hint, err := l.hint(ctx, seam.Path)
		if err != nil {
			return nil, err
		}
		lost := fmt.Sprintf("a gap is seen on only %.0f %% of the way", 100*share)
		switch {
		case share < leastTraced && c.Bridged > 0.5:
			lost = fmt.Sprintf("the surface runs on without a gap on %.0f %% of the way", 100*c.Bridged)
		case share >= leastTraced:
			lost = fmt.Sprintf("no gap is seen for %.0f mm, from %.0f mm on", to-from, from)
		}
		return nil, refuse("between %s and %s %s: %s", place(first), place(end), lost, hint)
	}
	for n, at := range seam.Path {
		if _, d := geom.NearestOnPath(at, c.Path); d > mostBeside {
			return nil, refuse("point %d of its path, %s, lies %.0f mm beside the gap that was traced; put it on the gap", n+1, place(at), d)
		}
	}
	progress.Report(1)
	course := seamfind.Orient(c)
	out := l.laid(seam.Name, inspection.Traced, course)
	out.Turned = course.Path[0] != c.Path[0]
	return []SeamPath{out}, nil
}

// hint says on which shut lines the first and the last point of a path lie.
func (l *layer) hint(ctx context.Context, path []geom.Vec) (string, error) {
	found, err := l.ground.Find(ctx, seamfind.Settings{Drawn: l.drawn(), OwnAxes: l.i.OwnFrame(), Threads: l.s.Threads}, nil)
	if err != nil {
		return "", err
	}
	var on [2]string
	for n, at := range [2]geom.Vec{path[0], path[len(path)-1]} {
		best := mostBeside
		for k := range found {
			if _, d := geom.NearestOnPath(at, found[k].Path); d < best {
				best, on[n] = d, found[k].Name
			}
		}
	}
	switch {
	case on[0] == "" && on[1] == "":
		return fmt.Sprintf("neither point lies within %.0f mm of a shut line; put both on the same gap, or write the whole path and leave trace out", mostBeside), nil
	case on[0] == "" || on[1] == "":
		which := "first"
		if on[1] == "" {
			which = "last"
		}
		return fmt.Sprintf("the %s point does not lie within %.0f mm of a shut line; put it on the gap of the other one (%s)", which, mostBeside, on[0]+on[1]), nil
	case on[0] != on[1]:
		return fmt.Sprintf("the points lie on different seams (%s; %s); trace each seam for itself", on[0], on[1]), nil
	}
	return "the gap is hidden there; write more points along it, or the whole path and leave trace out", nil
}

// find makes seam k a seam for every shut line that no path given runs along.
func (l *layer) find(ctx context.Context, k int, given [][]SeamPath, progress mesh.Progress) ([]SeamPath, error) {
	found, err := l.ground.Find(ctx, seamfind.Settings{Drawn: l.drawn(), OwnAxes: l.i.OwnFrame(), Threads: l.s.Threads}, progress)
	if err != nil {
		return nil, err
	}
	var there [][]geom.Vec
	taken := map[string]bool{}
	for _, list := range given {
		for _, p := range list {
			if p.Why == "" {
				there = append(there, p.Path)
			}
			taken[p.Seam] = true
		}
	}
	var out []SeamPath
	doubtful := 0
	for n := range found {
		f := &found[n]
		switch {
		case f.Sure < seamfind.LikelyFrom:
			doubtful++
			continue
		}
		line := inspection.FoundLine{Name: f.Name, Path: f.Path, There: seamfind.Beside(f.Path, there) >= 0}
		l.lines = append(l.lines, line)
		if line.There {
			continue
		}
		name := freeName(f.Name, taken)
		p := l.laid(name, inspection.Found, f.Course)
		if every := l.i.Seams[k].Every; p.Length/every > inspection.MostStations {
			return nil, refuse("%.6g mm of the seam %q cut every %.6g mm make more than %d stations; write a larger every", p.Length, name, every, inspection.MostStations)
		}
		p.Sure, p.SureWord = f.Sure, f.SureWord()
		out = append(out, p)
	}
	if len(out) == 0 && len(there) == 0 {
		more := ""
		if doubtful > 0 {
			more = fmt.Sprintf(" (lines that are doubtful: %d)", doubtful)
		}
		return nil, refuse("no shut line was found on the %s, in its shape of %d faces%s; write the path of each seam, or two of its points and trace = true", l.what, len(l.mesh.Faces), more)
	}
	return out, nil
}

// freeName returns a name, or with a number where it is taken, and takes it.
func freeName(wanted string, taken map[string]bool) string {
	name := wanted
	for m := 2; taken[name]; m++ {
		name = fmt.Sprintf("%s (%d)", wanted, m)
	}
	taken[name] = true
	return name
}

// laid makes a course a path of as few points as say the same, to a hundredth of a mm.
func (l *layer) laid(name string, how inspection.Laying, c seamfind.Course) SeamPath {
	p := SeamPath{Seam: name, Laying: how, Path: seampath.Rounded(seampath.Simplified(c.Path, pathWithin)), Seen: c.SeenShare()}
	p.Length = lengthOf(p.Path)
	p.Width, p.HasWidth = c.MeanWidth()
	return p
}

// bad refuses seam k, in the inspection's file where there is one.
func (l *layer) bad(k int, format string, args ...any) error {
	e := &InputError{Path: l.file, Problem: fmt.Sprintf("seam %q: ", l.i.Seams[k].Name) + fmt.Sprintf(format, args...)}
	if l.i.Path != "" {
		e.Path = l.i.Path
		if line := inspection.Line(l.i.Path, fmt.Sprintf("seam[%d]", k)); line > 0 {
			e.Problem = fmt.Sprintf("line %d: ", line) + e.Problem
		}
	}
	return e
}

func place(p geom.Vec) string {
	return strings.ReplaceAll(fmt.Sprintf("(%.1f, %.1f, %.1f)", p.X, p.Y, p.Z), "-0.0", "0.0")
}
