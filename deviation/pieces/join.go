package pieces

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/parallel"
)

// Settings of a join; the zero value works.
type Settings struct{ Threads int }

// Result is what joining found.
type Result struct {
	Names    []string // of the pieces and, last, of the reference where there is one
	Onto     bool     // joined onto the reference; else the first piece stays where it is
	Pieces   []Placed // in the order given
	Overlaps []Overlap
	Cycles   []Cycle
	Markers  []MarkerLeft
	Chi2     float64 // of all ties at the end
	DoF      int
	// Unit is the factor, at least 1, by which the uncertainties were widened since the ties disagree by more than they claim.
	Unit float64
	// Deformed is by how much the pieces have lost their shape between their overlaps, mm (one standard deviation along an axis at an overlap),
	// as the rounds of a join tell; the uncertainties hold it. 0: none shows, or there is no round to show it.
	Deformed float64
	Notes    []string // sentences for the user

	nodes []*body
}

// Placed is a piece with its motion.
type Placed struct {
	Name            string
	JoinedFromPiece geom.Rigid
	// Sigma are the standard uncertainties of its six motions relative to what stays, mm and radians about
	// Centre, the middle of its box in the joined frame; a free motion has none.
	Sigma  [6]float64
	Free   [6]bool
	Centre geom.Vec
	Stays  bool // it is what the others are relative to
	// Moved is the greatest displacement over the piece's box from where it was loaded, mm.
	Moved float64
	// UFar is the greatest expanded uncertainty (k = 2) of the place of a corner of its box, mm: how far off it may lie, whichever way, as
	// seldom as a number lies off by more than two standard uncertainties. 0 where a motion is free.
	UFar  float64
	Area  float64 // mm²
	Faces int
	// ScalePPM is by how much its markers lie farther apart than the reference's, parts per million; it is reported, never applied.
	ScalePPM, ScalePPMU float64
	HasScale            bool
}

// MarkerLeft is how well a marker's sightings agree in the joined frame.
type MarkerLeft struct {
	Name string
	At   geom.Vec
	Left []float64 // mm, of each sighting, in the order given
}

type joiner struct {
	nodes    []*body
	anchor   int // the node that stays
	markers  []Marker
	settings Settings
	poses    []geom.Rigid // joined from piece, as far as known
	overlaps []*Overlap
	misses   []miss
	strays   []*Overlap // that are none if their pieces share no frame
	placed   []string
	graph    *graph
}

// Join lays pieces together, onto the reference where there is one. Pieces of one session may share a frame that is off
// by centimetres; others are laid on one another by markers or a best fit. The result has the same bits for
// any number of threads. Errors wrap ErrPieces, with the figure, or are ctx's.
func Join(ctx context.Context, all []Piece, reference *Piece, markers []Marker, s Settings, progress mesh.Progress) (*Result, error) {
	if len(all) < 2 {
		return nil, refusal("two pieces or more are needed to join, and %d given; name the others", len(all))
	}
	j := &joiner{markers: markers, settings: s}
	everything := all
	if reference != nil {
		everything = append(append([]Piece{}, all...), *reference)
		j.anchor = len(all)
	}
	name := func(k int) string { return everything[k].Name }
	if err := checkTwins(everything); err != nil {
		return nil, err
	}
	if err := checkMarkers(markers, len(everything), name); err != nil {
		return nil, err
	}
	// One piece to a thread: much of making one ready is in turn.
	j.nodes = make([]*body, len(everything))
	failed := make([]error, len(everything))
	err := parallel.Chunks(ctx, len(everything), 1, s.Threads, progress.Part(0, 0.15), func(_, k, _, _ int) {
		j.nodes[k], failed[k] = newBody(ctx, everything[k], 1)
	})
	if err := cmp.Or(append([]error{err}, failed...)...); err != nil {
		return nil, err
	}
	if reference != nil {
		j.nodes[len(all)].fixed = true
	}
	if err := checkUnits(j.nodes[:len(all)]); err != nil {
		return nil, err
	}
	if err := checkFar(markers, j.nodes); err != nil {
		return nil, err
	}
	j.poses = identityPoses(len(j.nodes))
	fixed := make([]bool, len(j.nodes))
	fixed[j.anchor] = true
	if len(markers) > 0 {
		laid := make([]bool, len(j.nodes))
		laid[j.anchor] = true
		startByMarkers(markers, j.poses, laid)
		if sentence := contradiction(markers, j.poses, fixed, name); sentence != "" {
			return nil, refusal("%s", sentence)
		}
	}
	if err := j.overlapAll(ctx, roughReach, progress.Part(0.15, 0.6)); err != nil {
		return nil, err
	}
	if err := j.tie(ctx, progress.Part(0.6, 0.7)); err != nil {
		return nil, err
	}
	j.solve(fixed)
	// What was too far off to be seen to overlap may lie on one another now.
	before := len(j.overlaps)
	if err := j.overlapAll(ctx, leastReach*reachOfSpread/2, progress.Part(0.7, 0.8)); err != nil {
		return nil, err
	}
	if len(j.overlaps) > before {
		j.solve(fixed)
	}
	r := j.result(all)
	if err := j.checkSkins(r, identityPoses(len(j.nodes)), fixed); err != nil {
		return nil, err
	}
	if err := j.after(ctx, r, progress.Part(0.8, 1)); err != nil {
		return nil, err
	}
	r.say(j)
	progress.Report(1)
	return r, ctx.Err()
}

// overlapAll looks for overlaps of all pairs of nodes that have none yet, in their order.
func (j *joiner) overlapAll(ctx context.Context, reach float64, progress mesh.Progress) error {
	has := map[[2]int]bool{}
	for _, o := range j.overlaps {
		has[[2]int{o.A, o.B}] = true
	}
	var kept []*Overlap
	j.misses, j.strays = nil, nil
	n := len(j.nodes)
	for a := range n {
		for b := a + 1; b < n; b++ {
			progress.Report(float64(a*n+b) / float64(n*n))
			if has[[2]int{a, b}] {
				for _, o := range j.overlaps {
					if o.A == a && o.B == b {
						kept = append(kept, o)
					}
				}
				continue
			}
			start := j.poses[b].Inverse().After(j.poses[a])
			o, m, err := findOverlap(ctx, j.nodes[a], j.nodes[b], start, reach, j.settings.Threads)
			if err != nil {
				return err
			}
			if o != nil {
				o.A, o.B = a, b
				if o.strayed() {
					j.strays = append(j.strays, o)
				} else {
					kept = append(kept, o)
				}
			}
			if m != nil {
				m.a, m.b = a, b
				j.misses = append(j.misses, *m)
			}
		}
	}
	j.overlaps = kept
	return nil
}

// solve spreads the error over the graph.
func (j *joiner) solve(fixed []bool) {
	g := &graph{poses: j.poses, fixed: fixed}
	box := geom.EmptyBox()
	for k, b := range j.nodes {
		box = box.Union(movedBox(b.box, j.poses[k]))
	}
	g.centre, g.lever = box.Center(), max(box.Diagonal()/2, 1)
	j.chain(fixed)
	common := commonShape(j.overlaps)
	for _, o := range j.overlaps {
		o.weigh(common)
	}
	for _, o := range j.overlaps {
		l := link{a: o.A, b: o.B, bFromA: o.BFromA, centre: o.Centre, information: o.information, rank: o.rank}
		for _, p := range o.Patches {
			l.places = append(l.places, p.At)
		}
		g.links = append(g.links, l)
	}
	for i := range j.markers {
		m := &j.markers[i]
		if len(m.Seen) < 2 {
			continue
		}
		for _, s := range m.Seen {
			g.sights = append(g.sights, sight{node: s.Piece, point: len(g.points), at: s.At, sigma: m.sigma()})
		}
		g.points = append(g.points, j.poses[m.Seen[0].Piece].Apply(m.Seen[0].At))
	}
	g.solve()
	j.graph = g
}

// commonShape returns the variance that the pieces' shapes differ by, mm², over all area that overlaps.
func commonShape(overlaps []*Overlap) float64 {
	sum, area := 0.0, 0.0
	for _, o := range overlaps {
		sum += float64(o.shapeVariance() * o.Area)
		area += o.Area
	}
	return sum / max(area, 1)
}

// chain brings the poses near by walking the overlaps from the node that stays, so that the least squares start
// close: always by the one that holds most motions and, of those, is largest.
func (j *joiner) chain(fixed []bool) {
	done := append([]bool(nil), fixed...)
	for {
		var best *Overlap
		for _, o := range j.overlaps {
			if done[o.A] != done[o.B] && (best == nil || o.rank > best.rank || o.rank == best.rank && o.Area > best.Area) {
				best = o
			}
		}
		switch {
		case best == nil:
			return
		case done[best.B]:
			j.poses[best.A] = j.poses[best.B].After(best.BFromA).Orthonormal()
		default:
			j.poses[best.B] = j.poses[best.A].After(best.BFromA.Inverse()).Orthonormal()
		}
		done[best.A], done[best.B] = true, true
	}
}

// freeTurn in radians is how far off a turn that is not held may well be. A place beside its axis is drawn toward the axis by the
// square of that: where this comes to more than its U along a direction, that is not held there either.
const freeTurn = 0.1

func (j *joiner) result(all []Piece) *Result {
	s := j.graph.solution
	r := &Result{Onto: j.anchor == len(all), Chi2: s.chi2, DoF: s.dof, Unit: math.Sqrt(max(1, s.unitVariance())), nodes: j.nodes}
	unit := r.Unit
	var points [][]geom.Vec
	var rigid []bool
	for _, b := range j.nodes {
		points, rigid = append(points, b.some()), append(rigid, b.fixed)
	}
	if d, ok := j.graph.deformed(points, rigid); ok {
		r.Unit, r.Deformed, unit = math.Sqrt(d.within), d.sigma, 1
	}
	for _, b := range j.nodes {
		r.Names = append(r.Names, b.name)
	}
	for k := range all {
		b := j.nodes[k]
		p := Placed{Name: b.name, JoinedFromPiece: j.poses[k], Area: b.total(), Faces: len(b.mesh.Faces), Stays: k == j.anchor}
		p.Centre = p.JoinedFromPiece.Apply(b.box.Center())
		p.Moved = geom.MaxDisplacement(p.JoinedFromPiece, geom.Identity(), b.box)
		c, free := j.graph.covarianceOf(k, p.Centre)
		off := j.graph.offAxes(k, p.Centre)
		for i := range 6 {
			sigma := unit * math.Sqrt(max(0, c[i][i]))
			if i < 3 && float64(freeTurn*freeTurn*off[i]) > float64(4*sigma) {
				free[i] = true
			}
			if !free[i] {
				p.Sigma[i] = sigma
			}
		}
		p.Free = free
		for _, corner := range b.box.Corners() {
			at, _ := j.graph.covarianceOf(k, p.JoinedFromPiece.Apply(corner))
			p.UFar = max(p.UFar, float64(unit*reachOf(&at)))
		}
		if free != ([6]bool{}) {
			p.UFar = 0
		}
		if r.Onto {
			if scale, ok := scaleBetween(common(j.markers, k, j.anchor), DefaultMarkerSigma); ok {
				p.ScalePPM, p.ScalePPMU, p.HasScale = (scale.Factor-1)*1e6, 2e6*scale.Sigma, true
			}
		}
		r.Pieces = append(r.Pieces, p)
	}
	r.Cycles = j.graph.rounds()
	point := 0
	for i := range j.markers {
		m := &j.markers[i]
		if len(m.Seen) < 2 {
			continue
		}
		left := MarkerLeft{Name: m.Name, At: j.graph.points[point]}
		for _, s := range m.Seen {
			left.Left = append(left.Left, j.poses[s.Piece].Apply(s.At).Dist(left.At))
		}
		r.Markers = append(r.Markers, left)
		point++
	}
	return r
}

// reachOf returns how far a place may lie off whichever way, mm, with a chance of 95.45 %, by the covariance of its shifts: their sum of
// squares as a multiple of chi-square's with as many degrees of freedom as has the same mean and variance (Welch 1938; Satterthwaite 1946).
func reachOf(c *mat6) float64 {
	trace, squares := 0.0, 0.0
	for i := range 3 {
		trace += c[i][i]
		for k := range 3 {
			squares += float64(c[i][k] * c[i][k])
		}
	}
	if !(squares > 0) {
		return 0
	}
	share := min(max(squares/float64(trace*trace), 1.0/3), 1) // one over the degrees of freedom
	// Chi-square's 95.45 % over its degrees of freedom, of 3, 2 and 1.
	const three, two, one = 2.6750, 3.0900, 4.0000
	factor := three + float64((two-three)*float64((share-1.0/3)*6))
	if share > 0.5 {
		factor = two + float64((one-two)*float64(float64(2*share)-1))
	}
	return math.Sqrt(float64(trace * factor))
}

// after measures what the overlaps are off by with all pieces joined, and carries their places into the joined frame.
func (j *joiner) after(ctx context.Context, r *Result, progress mesh.Progress) error {
	for k, o := range j.overlaps {
		out := *o
		c := o.contact
		bFromA := j.poses[o.B].Inverse().After(j.poses[o.A])
		if err := c.pairUp(ctx, bFromA, max(leastReach, reachOfSpread*o.Alone), c.samples, c.matches); err != nil {
			return err
		}
		out.After, _ = c.left(&o.Noise)
		out.Patches = nil
		for _, p := range o.Patches {
			p.At = j.poses[o.B].Apply(p.At)
			out.Patches = append(out.Patches, p)
		}
		out.Most.At = j.poses[o.B].Apply(o.Most.At)
		r.Overlaps = append(r.Overlaps, out)
		progress.Report(float64(k+1) / float64(len(j.overlaps)))
	}
	return nil
}

// say words what is worth a word.
func (r *Result) say(j *joiner) {
	r.Notes = append(r.Notes, j.placed...)
	for k := range r.Overlaps {
		o := &r.Overlaps[k]
		if len(o.Free) > 0 {
			r.Notes = append(r.Notes, fmt.Sprintf("the overlap of %s and %s does not hold: %s", r.Names[o.A], r.Names[o.B], strings.Join(o.Free, "; ")))
		}
	}
	for _, c := range r.Cycles {
		if c.Closes {
			continue
		}
		var names []string
		for _, n := range append(append([]int{}, c.Nodes...), c.Nodes[0]) {
			names = append(names, r.Names[n])
		}
		r.Notes = append(r.Notes, fmt.Sprintf("the round %s does not close: %.2f mm are left, where the overlaps allow %.2f mm (k = 2); a piece on it is deformed, or an overlap slid",
			strings.Join(names, " - "), c.Gap, c.U))
	}
	if r.Deformed >= leastDeformed {
		r.Notes = append(r.Notes, fmt.Sprintf("between their overlaps the pieces have lost their shape by %.2f mm (one standard deviation), as the rounds of overlaps and markers tell; the uncertainties of the motions hold that", r.Deformed))
	}
	if r.Unit > 1.5 {
		r.Notes = append(r.Notes, fmt.Sprintf("the overlaps disagree by %.1f times what they claim; the uncertainties of the motions were widened by as much", r.Unit))
		if worst, left := r.leastAgreed(); worst != "" {
			r.Notes = append(r.Notes, fmt.Sprintf("of the markers %q agrees least: %.2f mm are left of it with all pieces joined", worst, left))
		}
	}
}

// leastDeformed, mm: what is less does not matter to any part.
const leastDeformed = 0.05

// leastAgreed returns the marker of which most is left, mm; "" where there is none.
func (r *Result) leastAgreed() (name string, left float64) {
	for i := range r.Markers {
		if m := slices.Max(r.Markers[i].Left); m > left {
			name, left = r.Markers[i].Name, m
		}
	}
	return name, left
}
