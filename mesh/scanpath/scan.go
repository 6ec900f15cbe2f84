package scanpath

import (
	"context"
	"errors"
	"fmt"
	"math"

	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
	"shutline/mesh/parallel"
)

// Defaults and limits of Options.
const (
	DefaultTriangles = 300_000
	DefaultNoise     = 0.03 // mm, one standard deviation
	DefaultOverlap   = 400.0
	NoiseLength      = 6.0 // mm at which the correlation of the shared noise falls to 1/e
	MaxTriangles     = 20_000_000
	MaxPieces        = 12
)

// ErrOptions says that a scan cannot be made as asked.
var ErrOptions = errors.New("scanpath")

// Window is a rectangle of the wall, in U from 0 to Round and V (FromU > ToU: over the start); the zero value is everything.
type Window struct{ FromU, ToU, FromV, ToV float64 }

func (w Window) all() bool { return w == Window{} }

func (w Window) holds(at Place) bool {
	if w.all() {
		return true
	}
	return at.Sheet == Wall && w.holdsU(at.U) && at.V >= w.FromV && at.V <= w.ToV
}

func (w Window) holdsU(u float64) bool {
	u -= float64(Round * math.Floor(u/Round))
	return w.FromU <= u && u <= w.ToU || w.FromU > w.ToU && (u >= w.FromU || u <= w.ToU) // over the start
}

// Options say what is scanned and how. The zero value is the whole van without drift, in one go, with DefaultNoise.
type Options struct {
	Triangles   int     // of all pieces together, about; 0: DefaultTriangles
	Spacing     float64 // mm between points, instead of Triangles
	Seed        uint64
	Noise       float64 // mm along the normal, one standard deviation, independent; 0: DefaultNoise; negative: none
	SharedNoise float64 // mm, noise that points share within NoiseLength; 0: none

	Drift      Drift
	Creep      Creep // in one go only: what the end is off by
	LoopClosed bool  // in one go only: the closing error is spread along the path
	Shape      Shape
	Fault      Fault

	Pieces     int     // 0 or 1: in one go; else so many, evenly round the body, each in its own frame
	FromMiddle bool    // each piece, or the whole, is begun in the middle of its path and scanned each way
	Overlap    float64 // mm along the surface that neighbours share, the end and the start, and the halves of the roof; 0: DefaultOverlap

	Window  Window // only what lies in it; the path stays what it is
	Still   bool   // pieces lie where they were scanned, in the reference's frame
	Threads int    // 0: all processors
}

func (o *Options) settle() error {
	if o.Triangles == 0 {
		o.Triangles = DefaultTriangles
	}
	if o.Noise == 0 {
		o.Noise = DefaultNoise
	}
	if o.Noise < 0 {
		o.Noise = 0
	}
	if o.Overlap == 0 {
		o.Overlap = DefaultOverlap
	}
	o.Pieces = max(1, o.Pieces)
	switch {
	case o.Pieces > MaxPieces:
		return fmt.Errorf("%w: %d pieces, at most %d", ErrOptions, o.Pieces, MaxPieces)
	case !(o.Overlap > 0 && o.Overlap < Round/float64(o.Pieces)/2):
		return fmt.Errorf("%w: an overlap of %g mm, must be above 0 and below half a piece, %.0f", ErrOptions, o.Overlap, Round/float64(o.Pieces)/2)
	case o.Pieces > 1 && (o.LoopClosed || !o.Creep.zero()):
		return fmt.Errorf("%w: only a scan in one go closes a loop or creeps", ErrOptions)
	case o.LoopClosed && o.FromMiddle:
		return fmt.Errorf("%w: a scan begun in the middle has two ends and closes no loop", ErrOptions)
	case o.Triangles < 0 || o.Triangles > MaxTriangles || o.Spacing < 0:
		return fmt.Errorf("%w: %d triangles of spacing %g, at most %d", ErrOptions, o.Triangles, o.Spacing, MaxTriangles)
	}
	return nil
}

// Scan is a simulated scan and its truth.
type Scan struct {
	Options    Options // as used, defaults filled in
	Drawn      *Body   // what the reference shows
	SheetMetal *Body   // what was scanned, with its faults
	Pieces     []Piece
}

// Piece is one mesh of a scan; the slices run along its vertices.
type Piece struct {
	Mesh   *mesh.Mesh // in the piece's own frame; coordinates are exact in single precision
	Places []Place
	True   []geom.Vec // on the sheet metal, reference frame
	Clean  []geom.Vec // where it would have been scanned without noise, in the piece's frame
	Travel []float64  // mm of the path from where the scanner began, of the sight that counts most
	Path   *Path
	// PieceFromReference is the frame the piece lies in: the motion, drift aside, from the body to the mesh.
	PieceFromReference geom.Rigid

	track *track
}

// New makes a scan. It stops early with ctx's error; other errors wrap ErrOptions.
func New(ctx context.Context, o Options, progress mesh.Progress) (*Scan, error) {
	if err := o.settle(); err != nil {
		return nil, err
	}
	s := &Scan{Options: o, Drawn: NewBody()}
	s.SheetMetal = s.Drawn.with(o.Fault.features()...)
	area := 0.0
	for i := range o.Pieces {
		half := float64(o.Overlap / 2)
		from, to := float64(Round*float64(i)/float64(o.Pieces)), float64(Round*float64(i+1)/float64(o.Pieces))
		p := Piece{Path: NewPath(from-half, to+half), PieceFromReference: geom.Identity()}
		if !o.Still {
			p.PieceFromReference = bodywork.Pose(bodyworkSeed(o.Seed, i))
		}
		p.track = newTrack(s.SheetMetal, p.Path, &o, i)
		area += s.area(&p)
		s.Pieces = append(s.Pieces, p)
	}
	spacing := o.Spacing
	if spacing == 0 {
		// Two triangles a square of the grid.
		spacing = math.Sqrt(2 * area / float64(o.Triangles))
	}
	if triangles := 2 * area / (spacing * spacing); triangles > 1.1*MaxTriangles {
		return nil, fmt.Errorf("%w: a spacing of %g mm makes %.0f triangles, at most %d", ErrOptions, spacing, triangles, MaxTriangles)
	}
	for i := range s.Pieces {
		n := float64(len(s.Pieces))
		if err := s.scan(ctx, i, spacing, progress.Part(float64(i)/n, float64(i+1)/n)); err != nil {
			return nil, err
		}
	}
	return s, nil
}

func bodyworkSeed(seed uint64, piece int) uint64 {
	k := bodywork.Keyed(seed, 'f', uint64(piece))
	return k.Next()
}

// area returns about the area of what a piece sees, mm².
func (s *Scan) area(p *Piece) float64 {
	if w := s.Options.Window; !w.all() {
		width := w.ToU - w.FromU
		if width < 0 {
			width += Round
		}
		return float64(width * (min(w.ToV, WallTop) - w.FromV))
	}
	a := float64((p.Path.To - p.Path.From) * WallTop)
	a -= float64(2 * math.Pi * archRadius * archRadius * (p.Path.To - p.Path.From) / Round)
	for _, sheet := range [2]Sheet{RoofLeft, RoofRight} {
		if lo, hi, ok := p.Path.roofSpan(sheet); ok {
			a += float64((hi - lo) * (roofHalf + float64(s.Options.Overlap/2)))
		}
	}
	return a
}

// scan fills in a piece.
func (s *Scan) scan(ctx context.Context, piece int, spacing float64, progress mesh.Progress) error {
	p, o := &s.Pieces[piece], &s.Options
	g := &grid{random: func(sheet Sheet, i, j int) bodywork.Source {
		return bodywork.Keyed(o.Seed, 's', uint64(piece), uint64(sheet), uint64(i), uint64(j))
	}, window: o.Window, spacing: spacing, jitter: jitter}
	g.lay(p.Path, o.Overlap/2)
	var faces [][3]uint32
	p.Places, faces = g.compact()
	n := len(p.Places)
	p.Mesh = &mesh.Mesh{Vertices: make([]geom.Vec, n), Faces: faces}
	p.True, p.Clean, p.Travel = make([]geom.Vec, n), make([]geom.Vec, n), make([]float64, n)
	return parallel.Chunks(ctx, n, 1024, o.Threads, progress, func(_, _, lo, hi int) {
		for i := lo; i < hi; i++ {
			var normal geom.Vec
			var s0 float64
			p.True[i], p.Clean[i], normal, s0 = s.carried(p, p.Places[i])
			p.Travel[i] = math.Abs(s0 - p.track.begin)
			random := bodywork.Keyed(o.Seed, 'n', uint64(piece), uint64(i))
			away := float64(o.Noise * random.Normal())
			if o.SharedNoise > 0 {
				away += float64(o.SharedNoise * sharedNoise(p.Places[i], o.Seed, piece))
			}
			v := p.Clean[i].AddScaled(away, normal)
			p.Mesh.Vertices[i] = geom.Vec{X: float64(float32(v.X)), Y: float64(float32(v.Y)), Z: float64(float32(v.Z))}
		}
	})
}

// carried returns where a place truly is, where a piece has it, its normal there, and the s that counts most.
func (s *Scan) carried(p *Piece, at Place) (true_, clean, normal geom.Vec, travel float64) {
	q, n := s.SheetMetal.At(at)
	seen, count := p.Path.sights(at)
	sum, best := geom.Vec{}, 0
	for i := range count {
		sum = sum.AddScaled(seen[i].Weight, p.track.carry(q, seen[i].S))
		if seen[i].Weight > seen[best].Weight {
			best = i
		}
	}
	n = p.track.at(seen[best].S).ApplyDir(n)
	sum = sum.Add(s.Options.Shape.Moves(sum))
	return q, p.PieceFromReference.Apply(sum), p.PieceFromReference.ApplyDir(n), seen[best].S
}

// Carried returns where a piece has the point of the sheet metal at a place,
// without noise, in the piece's frame; false when the piece does not see it. On the wall U may be
// given a round more or less: in a scan in one go those are the two skins where it comes over its start.
func (s *Scan) Carried(piece int, at Place) (geom.Vec, bool) {
	p := &s.Pieces[piece]
	if !p.sees(at, s.Options.Overlap/2) || !s.Options.Window.holds(at) {
		return geom.Vec{}, false
	}
	_, clean, _, _ := s.carried(p, at)
	return clean, true
}

// sees reports whether the piece reaches a place.
func (p *Piece) sees(at Place, past float64) bool {
	if at.Sheet == Wall {
		return at.U >= p.Path.From && at.U <= p.Path.To && at.V >= 0 && at.V <= WallTop && !inArch(at.U, at.V)
	}
	lo, hi, ok := p.Path.roofSpan(at.Sheet)
	return ok && at.U >= lo && at.U <= hi && onRoof(at, past)
}

// onRoof reports whether a place lies on its roof sheet, which ends past the middle.
func onRoof(at Place, past float64) bool {
	y := at.V
	if at.Sheet == RoofRight {
		y = -y
	}
	return y <= past && inset(at.U, at.V) >= rimInset+ditch
}

// Reference returns the van as it is drawn as a mesh of about so many triangles, and its vertices' places.
func Reference(ctx context.Context, triangles, threads int) (*mesh.Mesh, []Place, error) {
	path := NewPath(0, Round)
	area := Round*WallTop - 2*math.Pi*archRadius*archRadius + sideRun*2*roofHalf
	g := &grid{spacing: math.Sqrt(2 * area / float64(max(triangles, 1000))), whole: true}
	g.lay(path, 0)
	places, faces := g.compact()
	body := NewBody()
	m := &mesh.Mesh{Vertices: make([]geom.Vec, len(places)), Faces: faces}
	err := parallel.Chunks(ctx, len(places), 1024, threads, nil, func(_, _, lo, hi int) {
		for i := lo; i < hi; i++ {
			p, _ := body.At(places[i])
			m.Vertices[i] = geom.Vec{X: float64(float32(p.X)), Y: float64(float32(p.Y)), Z: float64(float32(p.Z))}
		}
	})
	return m, places, err
}
