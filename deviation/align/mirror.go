package align

import (
	"context"
	"errors"
	"fmt"
	"math"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/surface"
)

// ErrMirror is the sentinel of a body that has no plane of symmetry to be found.
var ErrMirror = errors.New("no plane of symmetry was found")

// MirrorPlane is the plane that a body is reflected in: a point of it, mm, and its unit normal.
type MirrorPlane struct{ Point, Normal geom.Vec }

// Apply reflects a point.
func (m MirrorPlane) Apply(p geom.Vec) geom.Vec {
	return p.AddScaled(-2*p.Sub(m.Point).Dot(m.Normal), m.Normal)
}

// ApplyDir reflects a direction.
func (m MirrorPlane) ApplyDir(d geom.Vec) geom.Vec {
	return d.AddScaled(-2*d.Dot(m.Normal), m.Normal)
}

// Mirrored returns the reflected mesh, with its faces wound the other way so that outside stays outside.
func (m MirrorPlane) Mirrored(body *mesh.Mesh) *mesh.Mesh {
	out := &mesh.Mesh{Vertices: make([]geom.Vec, len(body.Vertices)), Faces: make([][3]uint32, len(body.Faces)), Colours: body.Colours}
	for i, p := range body.Vertices {
		out.Vertices[i] = m.Apply(p)
	}
	for i, f := range body.Faces {
		out.Faces[i] = [3]uint32{f[0], f[2], f[1]}
	}
	if body.Normals != nil {
		out.Normals = make([]geom.Vec, len(body.Normals))
		for i, n := range body.Normals {
			out.Normals[i] = m.ApplyDir(n)
		}
	}
	return out
}

// after returns the rigid motion that reflects in first and then in m.
func (m MirrorPlane) after(first MirrorPlane) geom.Rigid {
	var g geom.Rigid
	for c, axis := range [3]geom.Vec{{X: 1}, {Y: 1}, {Z: 1}} {
		d := m.ApplyDir(first.ApplyDir(axis))
		g.R[0][c], g.R[1][c], g.R[2][c] = d.X, d.Y, d.Z
	}
	g.T = m.Apply(first.Apply(geom.Vec{}))
	return g
}

// MirrorFit is a plane that a reference was reflected in, and how well its halves agree.
type MirrorFit struct {
	Plane MirrorPlane
	Found bool // by the program; else it was given and is taken at its word

	// Standard uncertainties of a plane that was found: Offset of its place along the
	// normal at Point, mm; Tilt of its direction, the greatest, radians.
	Offset, Tilt float64

	// Halves: the plane runs through the body, so that there are two halves. Share of
	// the area lies within MirrorWithin of its mirror image; RMS in mm is the difference
	// of the halves where they agree.
	Halves bool
	Share  float64
	RMS    float64
}

// MirrorWithin in mm: halves that differ by more are not the same shape: ten times
// what sheet metal of one tool repeats to, and less than a dent worth mending.
const MirrorWithin = 1.0

const (
	mirrorSamples = 8000
	mirrorCoarse  = 3000
	mirrorPoints  = 20000
	mirrorSteps   = 16
	mirrorSettle  = 12
	seedMirror    = 61

	// mirrorFirst in diagonals: how far a plane through the middle of the area and
	// along its principal axes may be from the truth when a side is damaged or missing in part.
	mirrorFirst = 0.02

	// mirrorShare of the area, and of the area weighted by what holds the plane
	// (edges, openings, character lines), has to lie on its image for a plane to be
	// taken unasked. A body of two sides with a dent 0.4 m across reaches 0.95; one side of
	// a van, whose front and rear are broadly alike but different parts, 0.88 and 0.85.
	mirrorShare = 0.9

	// mirrorRival: a second plane whose share is this part of the best one's leaves it open which is meant.
	mirrorRival = 0.8

	// halvesLeast of the area near its image: under it the plane passes the body by.
	halvesLeast = 0.02
)

// MirrorHalves tells how well a body agrees with its image in a given plane;
// mirrored is the image. It returns ctx's error.
func MirrorHalves(ctx context.Context, plane MirrorPlane, mirrored *surface.Surface, threads int) (MirrorFit, error) {
	ref := newReference(ctx, mirrored, threads)
	if err := ctx.Err(); err != nil {
		return MirrorFit{}, err
	}
	fit := MirrorFit{Plane: plane}
	points := ref.samples
	if n := len(points); n > mirrorSamples {
		points = make([]point, 0, mirrorSamples)
		for k := range mirrorSamples {
			points = append(points, ref.samples[k*n/mirrorSamples])
		}
	}
	back := make([]point, len(points))
	for i, p := range points {
		back[i] = point{plane.Apply(p.p), plane.ApplyDir(p.n)}
	}
	pairs := make([]pair, len(back))
	m := newMatcher(ref, true, threads)
	if err := m.pairUp(ctx, geom.Identity(), back, describeReach, pairs); err != nil {
		return MirrorFit{}, err
	}
	fit.agree(pairs)
	return fit, nil
}

// agree fills in how well the halves agree.
func (fit *MirrorFit) agree(pairs []pair) {
	near, close, onRim := 0, 0, 0
	var size []float64
	for i := range pairs {
		if pairs[i].state == onBorder { // where an edge ends cannot be compared
			onRim++
		}
		if pairs[i].state != paired {
			continue
		}
		near++
		if d := math.Abs(pairs[i].r); d <= MirrorWithin {
			close++
			size = append(size, d)
		}
	}
	n := float64(max(len(pairs)-onRim, 1))
	fit.Halves = float64(near) > halvesLeast*n
	if fit.Halves {
		fit.Share, fit.RMS = float64(close)/n, spreadOf(size)
	}
}

// FindMirror finds the plane in which a body is symmetric. It tries the planes
// through the middle of the area square to its principal axes, in one of which a
// symmetric body must lie, and the best fit of the body's mirror image on the body;
// lets each come to rest, point to plane with Tukey's weights, as a reflection (an
// offset and two tilts); and takes the one in which most of the area agrees.
//
// ErrMirror, with the figures, tells of a body that is not symmetric, or symmetric in
// more planes than one, or that does not hold the plane; else ctx's error.
func FindMirror(ctx context.Context, body *surface.Surface, s Settings, progress mesh.Progress) (MirrorFit, error) {
	box := body.Mesh.Bounds()
	first := MirrorPlane{box.Center(), geom.Vec{X: 1}}
	f, err := newFit(ctx, first.Mirrored(body.Mesh), body, s)
	if err != nil {
		return MirrorFit{}, err
	}
	progress.Report(0.1)
	var all []mirrorCandidate
	middle, axes := f.ref.middle()
	for _, axis := range axes {
		all = append(all, mirrorCandidate{plane: MirrorPlane{middle, axis.Unit()}})
	}
	whole, err := f.bestFit(ctx, oneHand, progress.Part(0.1, 0.6))
	switch {
	case ctx.Err() != nil:
		return MirrorFit{}, ctx.Err()
	case err == nil:
		if plane, ok := nearestReflection(whole.ReferenceFromScan, first, middle, f.ref.diag); ok {
			all = append(all, mirrorCandidate{plane: plane})
		}
	}
	for k := range all {
		if err := f.restMirror(ctx, &all[k], first); err != nil {
			return MirrorFit{}, err
		}
		progress.Report(0.6 + 0.4*float64(k+1)/float64(len(all)))
	}
	best := 0
	for k := range all {
		if all[k].fit.Share > all[best].fit.Share {
			best = k
		}
	}
	c := &all[best]
	if share := min(c.fit.Share, c.held); !(share >= mirrorShare) {
		return MirrorFit{}, fmt.Errorf("align: the reference is not symmetric: in the best plane, %s, only %.0f %% of it lies within %.0f mm of its mirror image, edges counted more (%.0f %% is needed to take a plane unasked); "+
			"take a reference with both sides, or, if that is the plane, write %s: %w", c.plane.words(), 100*share, MirrorWithin, 100*mirrorShare, c.plane.key(), ErrMirror)
	}
	for k := range all {
		apart := geom.MaxDisplacement(all[k].plane.after(first), c.plane.after(first), f.placedBox(c.plane.after(first)))
		if apart > rivalApart && all[k].fit.Share > mirrorRival*c.fit.Share {
			return MirrorFit{}, fmt.Errorf("align: the reference is symmetric in more than one plane: %.0f %% of its area lies on its image in the plane %s, and %.0f %% in the plane %s; name the one that is meant as mirror_plane: %w",
				100*c.fit.Share, c.plane.words(), 100*all[k].fit.Share, all[k].plane.words(), ErrMirror)
		}
	}
	if worst := max(c.fit.Offset, c.fit.Tilt*f.ref.diag/2); !(worst <= heldSigma) {
		return MirrorFit{}, fmt.Errorf("align: the reference holds its plane of symmetry, %s, no better than ± %.2g mm at its ends (k = 2); name it as mirror_plane: %w", c.plane.words(), 2*worst, ErrMirror)
	}
	c.fit.Plane, c.fit.Found = c.plane, true
	progress.Report(1)
	return c.fit, nil
}

// words names a plane by its normal and its distance from the origin.
func (m MirrorPlane) words() string {
	return fmt.Sprintf("normal %s, through (%.0f, %.0f, %.0f) mm", axisWords(m.Normal), m.Point.X, m.Point.Y, m.Point.Z)
}

// key writes a plane as the inspection file does.
func (m MirrorPlane) key() string {
	return fmt.Sprintf("mirror_plane = { point = [%.3f, %.3f, %.3f], normal = [%.6f, %.6f, %.6f] }",
		m.Point.X+0, m.Point.Y+0, m.Point.Z+0, m.Normal.X+0, m.Normal.Y+0, m.Normal.Z+0)
}

// middle returns the middle of the area and its principal axes.
func (r *reference) middle() (geom.Vec, [3]geom.Vec) {
	points := make([]geom.Vec, len(r.samples))
	for i, p := range r.samples {
		points[i] = p.p
	}
	_, axes := principalAxes(points)
	return meanOf(points), axes
}

// nearestReflection returns the plane whose reflection is nearest to reflecting in
// first and then moving by g. ok is false where that is far from any reflection.
func nearestReflection(g geom.Rigid, first MirrorPlane, middle geom.Vec, diag float64) (plane MirrorPlane, ok bool) {
	const (
		mostTurn  = 0.1  // radians, about the normal
		mostGlide = 0.05 // diagonals, along the plane
	)
	var sym [][]float64
	var q [3]geom.Vec // columns of the linear part
	for c, axis := range [3]geom.Vec{{X: 1}, {Y: 1}, {Z: 1}} {
		q[c] = g.ApplyDir(first.ApplyDir(axis))
	}
	for r := range 3 {
		row := make([]float64, 3)
		for c := range 3 {
			row[c] = (q[c].At(r) + q[r].At(c)) / 2
		}
		sym = append(sym, row)
	}
	trace := sym[0][0] + sym[1][1] + sym[2][2]
	_, vectors := geom.EigenSymmetric(sym)
	n := geom.Vec{X: vectors[0][0], Y: vectors[0][1], Z: vectors[0][2]}.Unit()
	image := g.Apply(first.Apply(middle))
	d := image.Sub(middle)
	glide := d.AddScaled(-d.Dot(n), n).Norm()
	_, cos := geom.Sincos(mostTurn)
	plane = MirrorPlane{middle.AddScaled(d.Dot(n)/2, n), n}
	return plane, (trace+1)/2 >= cos && glide <= mostGlide*diag
}

// mirrorCandidate is a plane with how well the body agrees with itself in it.
type mirrorCandidate struct {
	plane MirrorPlane
	fit   MirrorFit
	held  float64 // the share weighted by what holds the plane
}

// restMirror lets a plane come to rest and judges it.
func (f *fit) restMirror(ctx context.Context, c *mirrorCandidate, first MirrorPlane) error {
	points := f.sample(mirrorCoarse, seedMirror)
	pairs := make([]pair, len(points))
	for _, scale := range fallingScales(max(mirrorFirst*f.ref.diag, 2*exactLast), exactLast, mirrorSteps) {
		if err := f.matcher.pairUp(ctx, c.plane.after(first), points, max(reachLeast, reachOfScale*scale), pairs); err != nil {
			return err
		}
		if !c.plane.step(pairs, scale, f.ref.diag/2) {
			return nil // nothing near its image: the share stays 0
		}
	}
	points = f.sample(mirrorPoints, seedMirror)
	pairs = make([]pair, len(points))
	scale := exactLast
	for range mirrorSettle {
		if err := f.matcher.pairUp(ctx, c.plane.after(first), points, describeReach, pairs); err != nil {
			return err
		}
		for i := range pairs {
			pairs[i].class = skinClass
		}
		scale = min(max(scale/2, tukeyTuning*max(noiseOf(pairs, skinClass), scaleFloor)), judgeScales[0])
		before := c.plane
		if !c.plane.step(pairs, scale, f.ref.diag/2) {
			return nil
		}
		if geom.MaxDisplacement(c.plane.after(first), before.after(first), f.placedBox(before.after(first))) < settled {
			break
		}
	}
	if err := f.matcher.pairUp(ctx, c.plane.after(first), points, describeReach, pairs); err != nil {
		return err
	}
	c.fit.agree(pairs)
	c.fit.doubt(c.plane, pairs, scale, f.ref.diag/2)
	points = f.draw(verifyPoints, seedMirror)
	pairs = make([]pair, len(points))
	if err := f.matcher.pairUp(ctx, c.plane.after(first), points, describeReach, pairs); err != nil {
		return err
	}
	var held MirrorFit
	held.agree(pairs)
	c.held = held.Share
	return nil
}

// row returns how the distance of a reflected point from its partner's plane
// changes with the plane's motion: the image moves twice as far as the plane, along
// its normal and about two axes in it, turns counted in mm at the lever.
func (m MirrorPlane) row(p *pair, e1, e2 geom.Vec, lever float64) [3]float64 {
	t := p.at.Sub(m.Point).Cross(p.n)
	return [3]float64{2 * m.Normal.Dot(p.n), 2 * e1.Dot(t) / lever, 2 * e2.Dot(t) / lever}
}

// step moves the plane toward agreement; ok is false where nothing holds it.
func (m *MirrorPlane) step(pairs []pair, scale, lever float64) (ok bool) {
	e1, e2 := beside(m.Normal)
	var a sym6
	var b vec6
	for i := range pairs {
		if pairs[i].state != paired {
			continue
		}
		w := tukeyWeight(pairs[i].r, scale)
		if w == 0 {
			continue
		}
		j := m.row(&pairs[i], e1, e2, lever)
		full := vec6{j[0], j[1], j[2]}
		a.addOuter(w, &full)
		for k := range 3 {
			b[k] -= float64(w * pairs[i].r * j[k])
		}
	}
	x, ok := solveThree(a, b)
	if !ok {
		return false
	}
	turn := geom.RotationVector(e1.Scale(x[1] / lever).Add(e2.Scale(x[2] / lever)))
	m.Point = m.Point.AddScaled(x[0], m.Normal)
	m.Normal = turn.ApplyDir(m.Normal).Unit()
	return true
}

// solveThree solves the first three equations, with a damping far below what holds.
func solveThree(a sym6, b vec6) (x vec6, ok bool) {
	inverse, ok := invertThree(a)
	for r := range 3 {
		x[r] = dot6(&inverse[r], &b)
	}
	return x, ok
}

func invertThree(a sym6) (inverse [6]vec6, ok bool) {
	a.mirror()
	trace := a[0][0] + a[1][1] + a[2][2]
	if !(trace > 0) {
		return inverse, false
	}
	var rows [6]vec6
	for r := range 6 {
		rows[r] = vec6(a[r])
		if r < 3 {
			rows[r][r] += float64(moveFloor * trace / 3)
		} else {
			rows[r] = vec6{}
			rows[r][r] = 1
		}
	}
	return invert6(rows)
}

// doubt works out the plane's uncertainty. The residuals may depend on one another
// in any way inside cells of the sizes that a best fit is judged by; a place and its
// image, which see the same difference twice, count into the same cell.
//
// Based on: Liang & Zeger, "Longitudinal data analysis using generalized linear models" (1986).
func (fit *MirrorFit) doubt(plane MirrorPlane, pairs []pair, scale, lever float64) {
	fit.Offset, fit.Tilt = math.Inf(1), math.Inf(1)
	e1, e2 := beside(plane.Normal)
	var a sym6
	for i := range pairs {
		if w := tukeyWeight(pairs[i].r, scale); pairs[i].state == paired && w > 0 {
			j := plane.row(&pairs[i], e1, e2, lever)
			full := vec6{j[0], j[1], j[2]}
			a.addOuter(w, &full)
		}
	}
	inverse, ok := invertThree(a)
	if !ok {
		return
	}
	offset, tilt := 0.0, 0.0
	for _, size := range clusterSizes {
		at, scores := map[[3]int32]int{}, []vec6{}
		for i := range pairs {
			w := tukeyWeight(pairs[i].r, scale)
			if pairs[i].state != paired || w == 0 {
				continue
			}
			p := pairs[i].at
			if p.Sub(plane.Point).Dot(plane.Normal) < 0 {
				p = plane.Apply(p)
			}
			key := cellOf(p, 2*size*lever)
			k, known := at[key]
			if !known {
				k = len(scores)
				at[key] = k
				scores = append(scores, vec6{})
			}
			j := plane.row(&pairs[i], e1, e2, lever)
			for c := range 3 {
				scores[k][c] += float64(w * pairs[i].r * j[c])
			}
		}
		if len(scores) <= 3 {
			continue
		}
		var s sym6
		for i := range scores {
			var x vec6
			for c := range 3 {
				x[c] = dot6(&inverse[c], &scores[i])
			}
			s.addOuter(float64(len(scores))/float64(len(scores)-3), &x)
		}
		offset = max(offset, root(s[0][0]))
		tilt = max(tilt, root(s[1][1]), root(s[2][2]))
	}
	fit.Offset, fit.Tilt = offset, tilt/lever
}
