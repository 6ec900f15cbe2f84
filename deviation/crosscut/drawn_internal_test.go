package crosscut

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/verdict"
	"shutline/mesh"
	"shutline/mesh/geom"
)

// A bend is a curve by formula: its curvature along its length, integrated in steps that are small beside it.
type bend struct {
	at   []Point2
	out  []Point2
	bent []float64 // curvature, 1/mm
	step float64
}

func newBend(long float64, curvature func(s float64) float64) *bend {
	const step = 0.004
	b := &bend{step: step}
	turned := 0.0
	p := Point2{}
	for k := range int(long/step) + 1 {
		c := curvature(float64(k) * step)
		b.at, b.bent = append(b.at, p), append(b.bent, c)
		b.out = append(b.out, Point2{-math.Sin(turned), math.Cos(turned)})
		mid := turned - c*step/2
		p = Point2{p.H + step*math.Cos(mid), p.V + step*math.Sin(mid)}
		turned -= c * step
	}
	return b
}

func (b *bend) index(s float64) int { return max(0, min(len(b.at)-1, int(math.Round(s/b.step)))) }

// scanned is a strip of the bend as a scanner leaves it: its points scattered, off by noise square to it, cut once.
// smoothed averages the noise over neighbours, as programs do that mesh scans.
func (d *drawn) scanned(t testing.TB, r *rand.Rand) []Curve {
	const rows = 6
	b := d.bend
	m := &mesh.Mesh{}
	columns := int(float64(len(b.at)-1)*b.step/d.spacing) + 1
	off := make([]float64, rows*columns)
	for k := range off {
		off[k] = d.noise * r.NormFloat64()
	}
	if d.smoothed {
		raw := slices.Clone(off)
		for k := range off {
			sum, n := 0.0, 0.0
			for row := max(0, k/columns-1); row <= min(rows-1, k/columns+1); row++ {
				for col := max(0, k%columns-1); col <= min(columns-1, k%columns+1); col++ {
					sum += raw[row*columns+col]
					n++
				}
			}
			off[k] = sum / math.Sqrt(n) // the noise stays as large as it was
		}
	}
	for row := range rows {
		for col := range columns {
			k := b.index((float64(col) + 0.35*(2*r.Float64()-1)) * d.spacing)
			y := (float64(row) + 0.35*(2*r.Float64()-1)) * d.spacing
			p, o, e := b.at[k], b.out[k], off[row*columns+col]
			m.Vertices = append(m.Vertices, geom.Vec{X: p.H + e*o.H, Y: y, Z: p.V + e*o.V})
			if row > 0 && col > 0 {
				v := uint32(row*columns + col)
				n := uint32(columns)
				m.Faces = append(m.Faces, [3]uint32{v - n - 1, v - n, v - 1}, [3]uint32{v - n, v, v - 1})
			}
		}
	}
	ctx := context.Background()
	maker, err := NewMaker(ctx, m, m.VertexNormals(), nil, 10, verdict.Tolerance{}, 1)
	require.NoError(t, err)
	s, err := maker.Cut(ctx, Spec{Point: geom.Vec{Y: (2 + r.Float64()) * d.spacing}, Normal: geom.Vec{Y: 1}})
	require.NoError(t, err)
	return s.Scan
}

// drawn is a bend drawn at random, where its radius is asked for, and what it is there: 0 where there is none.
type drawn struct {
	bend                   *bend
	at                     Point2
	within, spacing, noise float64
	smoothed               bool
	truth                  float64
}

// drawBend draws a case of a kind. Radii run from those of hems to those of swages.
func drawBend(kind string, r *rand.Rand) drawn {
	even := func(lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }
	d := drawn{noise: even(0, 0.1), spacing: even(0.3, 1.5)}
	radius := math.Exp(even(math.Log(1.5), math.Log(40)))
	turns := even(25, 160) * math.Pi / 180
	const flat = 30.0
	d.within = radius * even(0.4, 2)
	long := radius * turns
	s := 0.0
	switch kind {
	case "blend", "blend, off its middle", "blend, smoothed":
		d.bend = newBend(2*flat+long, func(s float64) float64 {
			if s > flat && s < flat+long {
				return 1 / radius
			}
			return 0
		})
		s, d.truth = flat+long/2, radius
		d.smoothed = kind == "blend, smoothed"
		if kind != "blend" {
			s += even(-1, 1) * d.within
		}
	case "flat":
		d.bend = newBend(2*flat, func(float64) float64 { return 0 })
		s = flat + even(-5, 5)
	case "two radii":
		other := radius * math.Exp(even(-1, 1)*math.Log(4))
		second := other * even(25, 90) * math.Pi / 180
		d.bend = newBend(2*flat+long+second, func(s float64) float64 {
			switch {
			case s > flat && s < flat+long:
				return 1 / radius
			case s >= flat+long && s < flat+long+second:
				return 1 / other
			}
			return 0
		})
		s = flat + even(0.1, 0.9)*long
		d.truth = radius
	case "tightening":
		// From half to one and a half times the curvature.
		d.bend = newBend(2*flat+long, func(s float64) float64 {
			if s > flat && s < flat+long {
				return (0.5 + (s-flat)/long) / radius
			}
			return 0
		})
		s = flat + even(0.1, 0.9)*long
		d.truth = 1 / d.bend.bent[d.bend.index(s)]
	case "clothoids":
		// Rising from straight to the radius and back, without a circle anywhere.
		d.bend = newBend(2*flat+long, func(s float64) float64 {
			if s > flat && s < flat+long {
				return (1 - math.Abs(2*(s-flat)/long-1)) / radius
			}
			return 0
		})
		s = flat + even(0.25, 0.75)*long
		d.truth = 1 / d.bend.bent[d.bend.index(s)]
	}
	d.at = d.bend.at[d.bend.index(s)]
	return d
}

// What is read of bends drawn at random, and whether the truth lies within U. A bend between straights is read within U wherever
// its place is put, or not at all. Where the curvature changes along it, what is read is the circle that fits best: often there is none,
// and where noise hides the change the radius at the place itself may lie outside U. -v prints the table.
func TestRadiiOfDrawnBends(t *testing.T) {
	for _, c := range []struct {
		kind                string
		runs                int
		in, given, mostHalf float64 // shares, and the most that half of the Us may be of the radius
	}{
		{"blend", 100, 0.95, 0.7, 0.1},
		{"blend, off its middle", 100, 0.95, 0.65, 0.12},
		{"blend, smoothed", 60, 0.93, 0.55, 0.14},
		{"two radii", 60, 0.85, 0, 1},
		{"tightening", 40, 0.6, 0, 1},
		{"clothoids", 40, 0.3, 0, 1},
		{"flat", 40, 0, 0, 0},
	} {
		in, given := 0, 0
		var wide, off []float64
		for seed := range uint64(c.runs) {
			r := rand.New(rand.NewPCG(seed, 77))
			d := drawBend(c.kind, r)
			v, _, why := radius(d.scanned(t, r), d.at, d.within, leastPlaces)
			if !v.OK {
				require.NotEmpty(t, why)
				continue
			}
			given++
			wide, off = append(wide, v.U/v.V), append(off, math.Abs(v.V-d.truth)/v.V)
			if math.Abs(v.V-d.truth) <= v.U {
				in++
			}
		}
		t.Logf("%-22s %3d of %3d read, truth within U %5.1f %%, half of U under %4.1f %%, 95 %% of errors under %4.1f %%",
			c.kind, given, c.runs, 100*float64(in)/float64(max(1, given)), 100*part(wide, 0.5), 100*part(off, 0.95))
		if c.mostHalf == 0 {
			require.Zero(t, given, c.kind)
			continue
		}
		require.GreaterOrEqual(t, float64(in), c.in*float64(given), c.kind)
		require.GreaterOrEqual(t, float64(given), c.given*float64(c.runs), c.kind)
		require.LessOrEqual(t, part(wide, 0.5), c.mostHalf, c.kind)
	}
}

// part is the value under which a share of a list lies.
func part(list []float64, q float64) float64 {
	if len(list) == 0 {
		return 0
	}
	slices.Sort(list)
	return list[min(len(list)-1, int(q*float64(len(list))))]
}
