package scanpath_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh/geom"
	"shutline/mesh/scanpath"
)

func scanned(t *testing.T, o scanpath.Options) *scanpath.Scan {
	t.Helper()
	s, err := scanpath.New(context.Background(), o, nil)
	require.NoError(t, err)
	return s
}

var (
	front = scanpath.Place{Sheet: scanpath.Wall, U: 0, V: scanpath.WallTop / 2}
	rear  = scanpath.Place{Sheet: scanpath.Wall, U: scanpath.Round / 2, V: scanpath.WallTop / 2}
)

// few makes scans of which only the motions are looked at.
func few(o scanpath.Options) scanpath.Options {
	o.Still, o.Noise = true, -1
	o.Window = scanpath.Window{FromU: scanpath.Round - 60, ToU: 60, FromV: 700, ToV: 840}
	o.Spacing = 40
	return o
}

// carried is where a scan without a window has a place.
func carried(t *testing.T, s *scanpath.Scan, piece int, at scanpath.Place) geom.Vec {
	t.Helper()
	free := *s
	free.Options.Window = scanpath.Window{}
	q, ok := free.Carried(piece, at)
	require.True(t, ok)
	return q
}

// What scanners do is common practice (no published source): a good one comes back about 10 mm off after some 50 m
// round a car-size body and is about 1.5 mm wrong over its length once the loop is closed; a poor one comes back 250
// to 300 mm off.
func TestDriftIsWhatPracticeKnows(t *testing.T) {
	const seeds = 300
	end := front
	end.U = scanpath.Round
	for _, c := range []struct {
		name                string
		drift               scanpath.Drift
		closing, over       float64 // mm, root mean square
		closingTol, overTol float64
	}{
		{"good", scanpath.GoodScanner(), 10, 1.5, 0.8, 0.15},
		{"poor", scanpath.PoorScanner(), 275, 41, 20, 5},
	} {
		t.Run(c.name, func(t *testing.T) {
			closing, closed, over := 0.0, 0.0, 0.0
			for seed := range uint64(seeds) {
				open := scanned(t, few(scanpath.Options{Drift: c.drift, Seed: seed}))
				d := carried(t, open, 0, end).Dist(carried(t, open, 0, front))
				closing += d * d / seeds
				loop := scanned(t, few(scanpath.Options{Drift: c.drift, Seed: seed, LoopClosed: true}))
				d = carried(t, loop, 0, end).Dist(carried(t, loop, 0, front))
				closed += d * d / seeds
				a, _ := loop.Drawn.At(front)
				b, _ := loop.Drawn.At(rear)
				d = carried(t, loop, 0, front).Dist(carried(t, loop, 0, rear)) - a.Dist(b)
				over += d * d / seeds
			}
			t.Logf("comes back %.2f mm off, %.3f after closing, %.2f mm over the length", math.Sqrt(closing), math.Sqrt(closed), math.Sqrt(over))
			require.InDelta(t, c.closing, math.Sqrt(closing), c.closingTol)
			require.InDelta(t, c.over, math.Sqrt(over), c.overTol)
			require.Less(t, math.Sqrt(closed), math.Sqrt(closing)/20)
		})
	}
	path := scanpath.NewPath(0, scanpath.Round)
	require.InDelta(t, 50_000, path.Length, 5000)
}

// Starting in the middle halves the way to each end: the error there is 1.4 (position noise alone) to 2.8 (angle
// noise alone on a straight way) times less, by the formula for an open chain of joints.
func TestMiddleIsBetterThanTheEnd(t *testing.T) {
	const seeds = 200
	end := scanpath.Place{Sheet: scanpath.Wall, U: scanpath.Round, V: scanpath.WallTop / 2}
	for _, c := range []struct {
		name   string
		drift  scanpath.Drift
		lo, hi float64
	}{
		{"position", scanpath.Drift{Shift: 1}, 1.3, 1.5},
		{"good scanner", scanpath.GoodScanner(), 1.3, 2.8},
	} {
		t.Run(c.name, func(t *testing.T) {
			far := [2]float64{}
			for seed := range uint64(seeds) {
				for i, mid := range []bool{false, true} {
					s := scanned(t, few(scanpath.Options{Drift: c.drift, Seed: seed, FromMiddle: mid}))
					p, _ := s.Drawn.At(end)
					// Against where the scanner began.
					d := carried(t, s, 0, end).Dist(p)
					far[i] += d * d / seeds
				}
			}
			ratio := math.Sqrt(far[0] / far[1])
			t.Logf("%.2f times less", ratio)
			require.Greater(t, ratio, c.lo)
			require.Less(t, ratio, c.hi)
		})
	}
}

// A creep is a motion given in advance: the closing must be its inverse, about the middle of the front.
func TestCreepIsTheClosing(t *testing.T) {
	creep := scanpath.Creep{Shift: geom.Vec{X: 0.3, Y: -0.5, Z: 0.2}, Turn: geom.Vec{X: 2e-4, Y: -1e-4, Z: 3e-4}}
	s := scanned(t, scanpath.Options{Creep: creep, Triangles: 20_000})
	c := s.Closings()
	require.Len(t, c, 2)
	require.InDelta(t, 54_000, c[0].Travel, 3000)
	// Between the two looks the path grew by a little less than its length, and the creep by that share.
	share := c[0].Travel / s.Pieces[0].Path.Length
	home, _ := s.Drawn.At(front)
	home = s.Pieces[0].PieceFromReference.Apply(home)
	back := s.Pieces[0].PieceFromReference.ApplyDir(creep.Shift.Scale(-share))
	require.Less(t, c[0].StartFromEnd.Apply(home).Sub(home).Dist(back), 0.02)
	require.InDelta(t, share*creep.Turn.Norm(), c[0].Turn.Norm(), 0.03*creep.Turn.Norm())
	require.Less(t, c[0].RMS, 0.02)
	for _, pair := range c[0].Places {
		a, ok := s.Carried(0, pair[0])
		require.True(t, ok)
		b, ok := s.Carried(0, pair[1])
		require.True(t, ok)
		require.Less(t, c[0].StartFromEnd.Apply(b).Dist(a), 0.05)
	}
}

func TestNormalsAreTheSlopes(t *testing.T) {
	b := scanpath.NewBody()
	for _, sheet := range []scanpath.Sheet{scanpath.Wall, scanpath.RoofLeft} {
		for u := 13.7; u < scanpath.Round; u += 61.3 {
			for v := 11.1; v < scanpath.WallTop-2; v += 37.9 {
				at := scanpath.Place{Sheet: sheet, U: u, V: v}
				if sheet != scanpath.Wall {
					at.U, at.V = u/scanpath.Round*scanpath.Length, v/scanpath.WallTop*1300-650
				}
				_, n := b.At(at)
				const h = 1e-3
				slope := func(du, dv float64) geom.Vec {
					p, _ := b.At(scanpath.Place{Sheet: sheet, U: at.U + du, V: at.V + dv})
					q, _ := b.At(scanpath.Place{Sheet: sheet, U: at.U - du, V: at.V - dv})
					return p.Sub(q)
				}
				want := slope(h, 0).Cross(slope(0, h)).Unit()
				require.Less(t, n.Dist(want), 2e-6, "%v", at)
			}
		}
	}
}

// The wall's upper rim and the roof are one surface: the same point by either coordinates.
func TestSheetsAreOneSurface(t *testing.T) {
	b := scanpath.NewBody()
	for _, x := range []float64{700, 2000, 3300} {
		p, n := b.At(scanpath.Place{Sheet: scanpath.RoofLeft, U: x, V: -scanpath.Width/2 + 160})
		// 160 mm inside the outline lies 40 mm below the wall's end.
		q, m := b.At(scanpath.Place{Sheet: scanpath.Wall, U: x + halfFrontLessCorner, V: scanpath.WallTop - 40})
		require.Less(t, p.Dist(q), 1e-9)
		require.Less(t, n.Dist(m), 1e-9)
	}
}

// halfFrontLessCorner is U less x along the left side: half the front and a quarter of a circle of 300 mm, less its radius.
const halfFrontLessCorner = scanpath.Width/2 - 300 + 300*math.Pi/2 - 300

func TestTruthIsOnTheBody(t *testing.T) {
	s := scanned(t, scanpath.Options{Pieces: 3, Triangles: 30_000, Drift: scanpath.GoodScanner(), Noise: 0.05, Seed: 4})
	require.Len(t, s.Pieces, 3)
	for i := range s.Pieces {
		p := &s.Pieces[i]
		sum := 0.0
		for v, at := range p.Places {
			q, _ := s.SheetMetal.At(at)
			require.Equal(t, q, p.True[v])
			c, ok := s.Carried(i, at)
			require.True(t, ok, "%v", at)
			require.Equal(t, c, p.Clean[v])
			d := p.Mesh.Vertices[v].Dist(c)
			require.Less(t, d, 0.05*6.1)
			sum += d * d / float64(len(p.Places))
			// Drift apart, the piece lies as its frame says.
			require.Less(t, p.PieceFromReference.Apply(q).Dist(c), 40.0)
		}
		require.InDelta(t, 0.05, math.Sqrt(sum), 0.002)
		for f := range p.Mesh.Faces {
			a := p.Places[p.Mesh.Faces[f][0]]
			_, n := s.Drawn.At(a)
			require.Greater(t, p.Mesh.AreaNormal(uint32(f)).Unit().Dot(p.PieceFromReference.ApplyDir(n)), 0.5)
		}
	}
	over := s.Overlaps()
	require.Len(t, over, 3)
	for _, o := range over {
		require.Greater(t, len(o.Places), 500)
		require.Greater(t, o.RMS, 0.001)
		require.Less(t, o.RMS, 10.0)
	}
}

func TestPiecesWithoutDriftFit(t *testing.T) {
	s := scanned(t, scanpath.Options{Pieces: 6, Triangles: 30_000, Seed: 9})
	neighbours := 0
	for _, o := range s.Overlaps() {
		require.Less(t, o.Worst, 1e-9)
		want := s.Pieces[o.B].PieceFromReference.After(s.Pieces[o.A].PieceFromReference.Inverse())
		require.Less(t, geom.MaxDisplacement(o.BFromA, want, s.Pieces[o.A].Mesh.Bounds()), 1e-8)
		if d := o.B - o.A; d == 1 || d == 5 {
			neighbours++
		}
	}
	require.Equal(t, 6, neighbours, "the overlaps close a ring")
}

// Magnitudes of drift shapes: a beam bent by the angle θ over L has the sagitta Lθ/8; a twist by τ moves a point at
// the half width b at the end of a length L by τ b L/2 (elementary beam theory).
func TestShapesAreBeamTheory(t *testing.T) {
	mid := geom.Vec{X: scanpath.Length / 2, Z: 1000}
	end := geom.Vec{X: scanpath.Length, Z: 1000}
	theta := 0.02 * math.Pi / 180
	bend := scanpath.Shape{BendY: scanpath.Length * theta / 8}
	require.InDelta(t, scanpath.Length*theta/8, bend.Moves(end).Y-bend.Moves(mid).Y, 1e-12)
	// Plane sections turn with the slope, θ/2 at the end, and stay plane.
	require.InDelta(t, -500*theta/2, bend.Moves(end.Add(geom.Vec{Y: 500})).X, 1e-9)
	twist := scanpath.Shape{Twist: 0.9e-6}
	require.InDelta(t, 0.9e-6*scanpath.Length/2*850, twist.Moves(end.Add(geom.Vec{Y: 850})).Z, 1e-12)
	scale := scanpath.Shape{Scale: geom.Vec{X: 1e-4}}
	require.InDelta(t, 1e-4*scanpath.Length/2, scale.Moves(end).X, 1e-12) // 100 ppm
}

func TestSharedNoiseFallsWithDistance(t *testing.T) {
	w := scanpath.Window{FromU: 2000, ToU: 2400, FromV: 300, ToV: 700}
	s := scanned(t, scanpath.Options{Window: w, Spacing: 1.5, Noise: -1, SharedNoise: 0.05, Still: true})
	p := &s.Pieces[0]
	n := make([]float64, len(p.Places))
	cell := map[[2]int][]int{}
	sum := 0.0
	for i, at := range p.Places {
		_, normal := s.Drawn.At(at)
		n[i] = p.Mesh.Vertices[i].Sub(p.Clean[i]).Dot(normal)
		sum += n[i] * n[i] / float64(len(n))
		k := [2]int{int(at.U / 8), int(at.V / 8)}
		cell[k] = append(cell[k], i)
	}
	require.InDelta(t, 0.05, math.Sqrt(sum), 0.003)
	var product, count [3]float64
	for _, in := range cell {
		for a, i := range in {
			for _, j := range in[a+1:] {
				d := math.Hypot(p.Places[i].U-p.Places[j].U, p.Places[i].V-p.Places[j].V)
				for k, at := range []float64{2, 4, 6} {
					if math.Abs(d-at) < 0.3 {
						product[k], count[k] = product[k]+n[i]*n[j], count[k]+1
					}
				}
			}
		}
	}
	for k, at := range []float64{2, 4, 6} {
		require.InDelta(t, math.Exp(-at*at/36), product[k]/count[k]/sum, 0.06, "%g mm", at)
	}
}

func TestFaultsAreInTheMetalAlone(t *testing.T) {
	s := scanned(t, scanpath.Options{Fault: scanpath.Fault{Dent: 2.5, Door: 1.5}, Noise: -1, Still: true, Spacing: 6,
		Window: scanpath.Window{FromU: 1900, ToU: 3200, FromV: 100, ToV: 1100}})
	lowest, highest := 0.0, 0.0
	for i, at := range s.Pieces[0].Places {
		q, n := s.Drawn.At(at)
		d := s.Pieces[0].True[i].Sub(q).Dot(n)
		lowest, highest = min(lowest, d), max(highest, d)
	}
	require.InDelta(t, -2.5, lowest, 0.05)
	require.InDelta(t, 1.5, highest, 0.05)
}

func TestSameBytesForAnyThreads(t *testing.T) {
	o := scanpath.Options{Pieces: 2, Triangles: 20_000, Drift: scanpath.PoorScanner(), SharedNoise: 0.02, Seed: 7}
	o.Threads = 1
	a := scanned(t, o)
	o.Threads = 4
	b := scanned(t, o)
	for i := range a.Pieces {
		require.Equal(t, a.Pieces[i].Mesh, b.Pieces[i].Mesh)
	}
	o.Seed = 8
	require.NotEqual(t, a.Pieces[0].Mesh.Vertices, scanned(t, o).Pieces[0].Mesh.Vertices)
}

func TestSizes(t *testing.T) {
	for _, pieces := range []int{1, 2, 6, 12} {
		s := scanned(t, scanpath.Options{Triangles: 100_000, Pieces: pieces})
		n := 0
		for i := range s.Pieces {
			n += len(s.Pieces[i].Mesh.Faces)
		}
		require.InDelta(t, 100_000, n, 10_000)
	}
	m, places, err := scanpath.Reference(context.Background(), 100_000, 0)
	require.NoError(t, err)
	require.Len(t, places, len(m.Vertices))
	require.InDelta(t, 100_000, len(m.Faces), 10_000)
	size := m.Bounds().Size()
	require.InDelta(t, scanpath.Length, size.X, 30)
	require.InDelta(t, scanpath.Width, size.Y, 30)
}

func TestRefusals(t *testing.T) {
	for name, o := range map[string]scanpath.Options{
		"pieces close no loop":  {Pieces: 2, LoopClosed: true},
		"two ends, no loop":     {FromMiddle: true, LoopClosed: true},
		"too many pieces":       {Pieces: 13},
		"overlap":               {Overlap: 9000},
		"overlap below nothing": {Overlap: -1},
		"too many triangles":    {Triangles: 30_000_000},
		"too fine":              {Spacing: 0.5},
	} {
		_, err := scanpath.New(context.Background(), o, nil)
		require.ErrorIs(t, err, scanpath.ErrOptions, name)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err := scanpath.New(ctx, scanpath.Options{}, nil)
	require.ErrorIs(t, err, context.Canceled)
}

func BenchmarkWholeVan(b *testing.B) {
	for b.Loop() {
		s, err := scanpath.New(context.Background(), scanpath.Options{Triangles: 1_000_000, Drift: scanpath.GoodScanner(), SharedNoise: 0.02}, nil)
		require.NoError(b, err)
		require.InDelta(b, 1_000_000, len(s.Pieces[0].Mesh.Faces), 1e5)
	}
}
