package align

import (
	"context"
	"fmt"
	"math"
	"slices"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/parallel"
)

const (
	// laidStations of the scan's borders are laid on up to laidOn of the reference's: of a scan of which half of the borders
	// are the part's, sixteen miss them all once in 65000 times.
	laidStations = 16
	laidOn       = 1500
	// laidSkin points tell which of these poses lie on the skin at all: those with laidShare of the best pose's score.
	laidSkin  = 32
	laidShare = 0.8
	// laidProbe stations rank the poses; laidKept are refined on the skin, and of these laidWalked are walked to where their borders lie.
	laidProbe  = 64
	laidKept   = 48
	laidWalked = 6
	laidPoints = 4000
	laidSteps  = 8
	// laidNear in mm, or in spacings: borders that lie farther apart do not count for a pose that has not been refined.
	laidNear = 8.0
	// borderTuning times the scatter of borders is the scale of their loss, tukeyTuning with the same reason.
	borderTuning = tukeyTuning
	// stillNear: a part that is bent or twisted by a millimetre or two lies near the reference where it belongs, for nearly all
	// that lies near it where it fits best.
	stillNear = 0.9
)

// borderPose is a pose that borders speak for or against.
type borderPose struct {
	g    geom.Rigid
	firm bool    // may be chosen: the surface found it, or several borders confirm one another
	near float64 // share of the points within onReference
	rms  float64 // mm, of these
	skin judged  // by the surface
	edge judged  // by the borders
}

// rivalsByBorders is what the poses are that the surface cannot tell from the best, judged by the borders of the part.
type rivalsByBorders struct {
	set     *borderSet
	cell    float64      // mm, points within such a cell may be wrong together
	stretch []int        // of each of the scan's stations, by number
	poses   []borderPose // the chosen one first
	refuted []borderPose // by the surface
	other   bool         // it is not the one that was best
}

// letBordersDecide lets the borders of the part hold what the surface leaves free, and tell apart poses that it does not.
func (f *fit) letBordersDecide(ctx context.Context, best *found, progress mesh.Progress) error {
	r, err := f.byRivals(ctx, best)
	if err != nil || r == nil {
		return err
	}
	p := &best.p
	if r.other {
		q, err := f.finish(ctx, r.poses[0].g, nil)
		if err != nil {
			return err
		}
		if best.q, err = f.overlapOf(ctx, q.ReferenceFromScan); err != nil {
			return err
		}
		p = q.after(p)
		p.Overlap = best.q
	}
	held, err := f.heldBy(ctx, r.set, p, r.other, progress)
	if err != nil {
		return err
	}
	switch {
	case held != nil:
		p = held.after(p)
	case p.directionsFree > 0:
		r.contest(&best.p, f.search.box)
		return nil // the borders show too little to speak for one pose or another
	}
	p.withoutRival()
	r.judge(p, f.search.box)
	r.contest(p, f.search.box)
	best.p = *p
	return nil
}

// contest says that the borders are for another pose than the skin, where they are: either may be wrong on a part that is bent, twisted or
// cut otherwise.
func (r *rivalsByBorders) contest(p *Placement, box geom.Box) {
	chosen, against := &r.poses[0], (*borderPose)(nil)
	for k := range r.refuted {
		q := &r.refuted[k]
		if q.firm && q.near > stillNear*chosen.near && r.lead(q, chosen) >= clearly && (against == nil || q.edge.total < against.edge.total) {
			against = q
		}
	}
	if against == nil {
		return
	}
	p.Ambiguous, p.ambiguousElse = true, true
	p.Notes = append(p.Notes, fmt.Sprintf("The part's borders would lie along the reference's if the scan were moved by up to %.1f mm and turned by %.2g degrees; what lies near the reference would then scatter by %.2g mm instead of %.2g mm. "+
		"A bent or twisted part looks like this, or one that was cut otherwise: place it by datums, by pairs, or on regions that are as drawn.",
		geom.MaxDisplacement(p.ReferenceFromScan, against.g, box), against.g.After(p.ReferenceFromScan.Inverse()).Angle()*180/math.Pi, against.rms, chosen.rms))
}

// after returns the placement with what was found out about the one that it takes the place of.
func (p *Placement) after(was *Placement) *Placement {
	if p == was {
		return p
	}
	out := *p
	out.Notes = slices.Concat(p.Notes[:p.described:p.described], was.Notes[was.described:])
	out.RunnerUp, out.Overlap, out.MirrorFits = was.RunnerUp, was.Overlap, was.MirrorFits
	out.Ambiguous, out.ambiguousElse, out.rivalled = was.Ambiguous, was.ambiguousElse, was.rivalled
	return &out
}

// withoutRival takes back that a second pose fits nearly as well, where nothing else makes the placement ambiguous.
func (p *Placement) withoutRival() {
	if p.rivalled == "" {
		return
	}
	p.Notes = slices.DeleteFunc(slices.Clone(p.Notes), func(s string) bool { return s == p.rivalled })
	p.rivalled, p.Ambiguous = "", p.ambiguousElse
}

// byRivals looks for poses which the surface cannot tell from the best, lays them where their borders lie along the reference's
// and puts first the one that the borders are clearly for; nil where either has no borders. A plate lies as well turned by a half, and a
// row of holes as well beside itself, as far as the skin shows.
func (f *fit) byRivals(ctx context.Context, best *found) (*rivalsByBorders, error) {
	set, err := f.borderSet(ctx)
	if err != nil || set == nil {
		return nil, err
	}
	out := &rivalsByBorders{set: set, cell: leadCell * f.ref.diag, stretch: stretches(set.scan)}
	poses := []candidate{{g: best.p.ReferenceFromScan}}
	for _, r := range best.rivals[1:] {
		second := RunnerUp{ReferenceFromScan: r.g, Angle: r.g.After(best.p.ReferenceFromScan.Inverse()).Angle()}
		if lead(best.rivals[0], r, leadCell*f.ref.diag) < clearly && !best.p.alongFree(&second) {
			poses = append(poses, candidate{g: r.g})
		}
	}
	if err := f.walkRivals(ctx, out, poses, true); err != nil {
		return nil, err
	}
	if best.p.directionsFree > 0 {
		laid, err := f.laidOnBorders(ctx, set, best.p.ReferenceFromScan)
		if err != nil {
			return nil, err
		}
		if err := f.walkRivals(ctx, out, laid, false); err != nil {
			return nil, err
		}
	}
	if best.p.weakest() > weakSigma {
		if err := f.walkAlongSkin(ctx, out, best.p.ReferenceFromScan); err != nil {
			return nil, err
		}
	}
	if err := f.judgePoses(ctx, out); err != nil {
		return nil, err
	}
	if out.choose(); !out.other {
		return out, nil
	}
	// Half turns were tried of the pose that was best before.
	turned, err := f.turnedRound(ctx, out.poses[0].g, f.drawInner(exactPoints, seedExact))
	if err != nil {
		return nil, err
	}
	if err := f.walkRivals(ctx, out, turned, false); err != nil {
		return nil, err
	}
	if err := f.judgePoses(ctx, out); err != nil {
		return nil, err
	}
	out.choose()
	return out, nil
}

// walkRivals walks from poses to where their borders lie along the reference's and adds those that are new; found says that
// the surface speaks for them.
func (f *fit) walkRivals(ctx context.Context, out *rivalsByBorders, poses []candidate, found bool) error {
	// One after the other: each walk spreads its own work.
	for _, c := range poses {
		w := f.walkOn(out.set)
		r, h, ok, err := w.walk(ctx, c.g, laidPoints, nil)
		if err != nil {
			return err
		}
		p := borderPose{g: c.g, firm: found}
		if ok {
			p.g = r.g
			p.firm = p.firm || w.confirmed(r.g, &h)
		}
		if out.isNew(&p, f.search.box) {
			out.poses = append(out.poses, p)
		}
	}
	return nil
}

// walkAlongSkin adds the pose in which the part's borders lie along the reference's if the scan is moved along the skin, whatever the
// skin says of it, where several borders confirm one another: a twisted panel may fit best where it lies aslant.
func (f *fit) walkAlongSkin(ctx context.Context, out *rivalsByBorders, g geom.Rigid) error {
	w := f.walkOn(out.set)
	w.alongSkin = true
	r, h, ok, err := w.walk(ctx, g, laidPoints, nil)
	if err != nil || !ok || !w.confirmed(r.g, &h) {
		return err
	}
	if p := (borderPose{g: r.g, firm: true}); out.isNew(&p, f.search.box) {
		out.poses = append(out.poses, p)
	}
	return nil
}

// isNew reports whether a pose differs from those before it.
func (r *rivalsByBorders) isNew(p *borderPose, box geom.Box) bool {
	for i := range r.poses {
		if geom.MaxDisplacement(r.poses[i].g, p.g, box) < max(rivalApart, 2*r.set.sd()) {
			return false
		}
	}
	return true
}

// laidOnBorders lays stations of the scan's borders on stations of the reference's and returns the poses that rest on the skin
// and in which most of the borders lie along one another.
func (f *fit) laidOnBorders(ctx context.Context, set *borderSet, best geom.Rigid) ([]candidate, error) {
	from := thinned(set.scan, laidStations)
	onto := thinned(set.ref.all, laidOn)
	probe := thinned(set.scan, laidProbe)
	near := max(laidNear, 2*set.spacing)
	grid := newStationGrid(set.ref.all, near)
	skin := shuffled(f.sample(laidSkin, seedCoarse))
	tau := coarseScale * f.ref.diag
	least := laidShare * f.search.score(&best, skin, tau)
	scores := make([]float64, len(from)*len(onto))
	pose := func(k int) geom.Rigid { return ontoStation(&from[k/len(onto)], &onto[k%len(onto)]) }
	err := parallel.Chunks(ctx, len(scores), 256, f.settings.Threads, nil, func(_, _, lo, hi int) {
		for k := lo; k < hi; k++ {
			g := pose(k)
			scores[k] = -1
			if f.search.score(&g, skin, tau) >= least {
				scores[k] = grid.along(g, probe)
			}
		}
	})
	if err != nil {
		return nil, err
	}
	var poses []candidate
	for _, k := range bestOf(scores, 8*laidKept) {
		if scores[k] > 0 {
			poses = append(poses, candidate{g: pose(k), score: scores[k]})
		}
	}
	poses = distinct(poses, f.search.box, near, laidKept)
	points := f.drawInner(exactPoints, seedExact)
	rested, err := f.descendAll(ctx, poses, points, fallingScales(max(exactFirst*f.ref.diag, 2*exactLast), exactLast, laidSteps), nil)
	if err != nil {
		return nil, err
	}
	for k := range rested {
		rested[k].score = grid.along(rested[k].g, set.scan)
	}
	sortCandidates(rested)
	return distinct(rested, f.search.box, near, laidWalked), nil
}

// thinned returns about n of the stations, evenly.
func thinned(all []station, n int) []station {
	if len(all) <= n {
		return all
	}
	out := make([]station, n)
	for k := range out {
		out[k] = all[(2*k+1)*len(all)/(2*n)]
	}
	return out
}

// ontoStation returns the motion that carries one station onto another: place, run and skin.
func ontoStation(from, to *station) geom.Rigid {
	frame := func(s *station) geom.Mat3 {
		n := s.along.Cross(s.out).Unit()
		return geom.Mat3{{s.along.X, s.out.X, n.X}, {s.along.Y, s.out.Y, n.Y}, {s.along.Z, s.out.Z, n.Z}}
	}
	g := geom.Rigid{R: frame(to).Mul(frame(from).Transpose())}
	g = g.Orthonormal()
	g.T = to.p.Sub(g.ApplyDir(from.p))
	return g
}

// along returns the share of the stations that lie along the grid's at a pose, nearer ones counting more.
func (g *stationGrid) along(pose geom.Rigid, stations []station) float64 {
	sum := 0.0
	for i := range stations {
		s := stations[i].moved(&pose)
		if q := g.nearest(&s); q >= 0 {
			d := s.p.Sub(g.all[q].p).Dot(g.all[q].out)
			sum += 1 - tukeyLoss(d, g.cell)
		}
	}
	return sum / float64(max(len(stations), 1))
}

func (s *station) moved(g *geom.Rigid) station {
	q := *s
	q.p, q.along, q.out, q.n = g.Apply(s.p), g.ApplyDir(s.along), g.ApplyDir(s.out), g.ApplyDir(s.n)
	return q
}

// judgePoses judges poses as they are, by the skin and by the borders.
func (f *fit) judgePoses(ctx context.Context, r *rivalsByBorders) error {
	set, poses := r.set, r.poses
	points := f.drawInner(verifyPoints, seedVerify)
	all := make([][]pair, len(poses))
	scale := math.Inf(1)
	for k := range poses {
		all[k] = make([]pair, len(points))
		if err := f.matcher.pairUp(ctx, poses[k].g, points, judgeScales[0], all[k]); err != nil {
			return err
		}
		scale = min(scale, tukeyTuning*max(noiseOf(all[k], skinClass), scaleFloor, f.settings.Noise))
	}
	rim := set.tuned()
	grid := newStationGrid(set.ref.all, max(float64(2*rim), borderStep))
	for k := range poses {
		p := &poses[k]
		p.skin = judgedBy(points, &rest{g: p.g, pairs: all[k]}, losses(all[k], scale))
		near, squares := 0, 0.0
		for i := range all[k] {
			if q := &all[k][i]; q.state == paired && math.Abs(q.r) < onReference {
				near++
				squares += float64(q.r * q.r)
			}
		}
		p.near, p.rms = float64(near)/float64(len(points)), math.Sqrt(squares/float64(max(near, 1)))
		p.edge = judged{g: p.g}
		for i := range set.scan {
			s := set.scan[i].moved(&p.g)
			loss := 1.0
			if q := grid.nearest(&s); q >= 0 {
				loss = tukeyLoss(s.p.Sub(grid.all[q].p).Dot(grid.all[q].out), rim)
			}
			p.edge.loss, p.edge.at = append(p.edge.loss, loss), append(p.edge.at, set.scan[i].p)
			p.edge.total += loss
		}
	}
	return nil
}

// choose leaves out the poses that the surface refutes beside the best of all, and puts first the one for which the borders
// clearly are; else the first stays.
func (r *rivalsByBorders) choose() {
	best := 0
	for k := range r.poses {
		if r.poses[k].skin.total < r.poses[best].skin.total {
			best = k
		}
	}
	kept := make([]borderPose, 0, len(r.poses))
	for k := range r.poses {
		if k == 0 || lead(r.poses[best].skin, r.poses[k].skin, r.cell) < clearly {
			kept = append(kept, r.poses[k])
		} else {
			r.refuted = append(r.refuted, r.poses[k])
		}
	}
	r.poses = kept
	for k := range r.poses {
		if k > 0 && r.poses[k].firm && r.poses[k].edge.total < r.poses[0].edge.total && r.lead(&r.poses[k], &r.poses[0]) >= clearly {
			r.poses[0], r.poses[k] = r.poses[k], r.poses[0]
			r.other = true
		}
	}
}

// stretches numbers the stretches of border that turn by less than 30 degrees.
func stretches(stations []station) []int {
	out := make([]int, len(stations))
	first := 0
	for i := range stations {
		n := 0
		if i > 0 {
			n = out[i-1]
			if s := &stations[i]; s.chain != stations[first].chain || s.out.Dot(stations[first].out) < sectorCos {
				n, first = n+1, i
			}
		}
		out[i] = n
	}
	return out
}

// lead returns by how many standard deviations the borders speak for one pose rather than another: as lead does, and a whole stretch
// may differ from the reference's by as much as stretches do that are cut along another way or seen with another eye.
func (r *rivalsByBorders) lead(one, other *borderPose) float64 {
	a, b := &one.edge, &other.edge
	sums := cellSums(*a, *b, r.cell)
	total, squares := 0.0, 0.0
	for _, s := range sums {
		total += s
		squares += float64(s * s)
	}
	odd := tukeyLoss(max(float64(borderOdd*r.set.spacing), borderFloor), r.set.tuned())
	sum, last := 0.0, -1
	for i, stretch := range r.stretch {
		if stretch != last {
			squares += float64(sum * sum)
			sum, last = 0, stretch
		}
		if a.loss[i] < 1 || b.loss[i] < 1 {
			sum += odd
		}
	}
	squares += float64(sum * sum)
	if squares == 0 {
		return 0
	}
	return total / math.Sqrt(squares)
}

// tuned is the scale in mm of the loss of borders.
func (b *borderSet) tuned() float64 { return float64(borderTuning * b.sd()) }

// judge calls a placement, which is that of the first pose, ambiguous where another explains the surface and the borders nearly as
// well and the motions that are left free do not lead there.
func (r *rivalsByBorders) judge(p *Placement, box geom.Box) {
	for k := range r.poses { // with the chosen one, from which the skin may have led away
		q := &r.poses[k]
		second := RunnerUp{
			ReferenceFromScan: q.g, Apart: geom.MaxDisplacement(p.ReferenceFromScan, q.g, box),
			Lead: r.lead(&r.poses[0], q), Angle: q.g.After(p.ReferenceFromScan.Inverse()).Angle(),
		}
		if second.Apart < max(rivalApart, 4*r.set.sd()) || second.Lead >= clearly || p.alongFree(&second) {
			continue
		}
		p.Ambiguous = true
		p.Notes = append(p.Notes, fmt.Sprintf("A second pose, turned by %.1f degrees and up to %.1f mm away, fits nearly as well, the part's borders too: check that the part lies the right way round.",
			second.Angle*180/math.Pi, second.Apart))
		return
	}
}
