package deviation_test

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation"
	"shutline/deviation/align"
	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/surface"
)

// pressing is a made-up part by formula: a dish of 900 by 600 mm with radii of
// curvature down to 400 mm that no motion but one carries onto itself. lift is how far it stands proud
// of its drawing along the normal.
func pressing(u, v float64, lift func(u, v float64) float64) (p geom.Vec, deviation float64) {
	f := 30*math.Sin(u/210) + 24*math.Sin(v/120+u/700) + 18*math.Exp(-((u-300)*(u-300)+(v-350)*(v-350))/9000)
	bump := 18 * math.Exp(-((u-300)*(u-300)+(v-350)*(v-350))/9000) / 4500
	fu := 30.0/210*math.Cos(u/210) + 24.0/700*math.Cos(v/120+u/700) - bump*(u-300)
	fv := 24.0/120*math.Cos(v/120+u/700) - bump*(v-350)
	n := geom.Vec{X: -fu, Y: -fv, Z: 1}.Unit()
	d := lift(u, v)
	return geom.Vec{X: u, Y: v, Z: f}.AddScaled(d, n), d
}

// grid meshes the pressing with squares of about the given side and returns every vertex's true deviation.
func grid(step float64, inset float64, lift func(u, v float64) float64) (*mesh.Mesh, []float64) {
	m := &mesh.Mesh{}
	var truth []float64
	nu, nv := int((900-2*inset)/step), int((600-2*inset)/step)
	for i := range nu + 1 {
		for j := range nv + 1 {
			p, d := pressing(inset+(900-2*inset)*float64(i)/float64(nu), inset+(600-2*inset)*float64(j)/float64(nv), lift)
			m.Vertices, truth = append(m.Vertices, p), append(truth, d)
			if i > 0 && j > 0 {
				a, b := uint32((i-1)*(nv+1)+j-1), uint32(i*(nv+1)+j-1)
				m.Faces = append(m.Faces, [3]uint32{a, b, b + 1}, [3]uint32{a, b + 1, a + 1})
			}
		}
	}
	return m, truth
}

func flat(_, _ float64) float64 { return 0 }

// dent is a fault of 1.2 mm within some 60 mm.
func dent(u, v float64) float64 {
	return -1.2 * math.Exp(-((u-600)*(u-600)+(v-200)*(v-200))/1800)
}

// Whatever has the greatest part in it, the noise, the placement or the
// chords of the reference, U holds what it says: the true deviation, known from the
// formula, lies inside it in 93 to 99 % of the points (k = 2: 95.4 %) of scans that
// were each placed by a best fit from another pose.
func TestTheTruthLiesWithinUInAboutNinetyFivePercent(t *testing.T) {
	ctx := context.Background()
	for _, c := range []struct {
		name             string
		chord, scan      float64 // mm, sides of the squares of reference and scan
		noise, leastFelt float64 // mm; the least mean of what the case is about, beside the noise
		seeds            int
	}{
		{"noise", 4, 9, 0.04, 0, 1},
		{"chords", 20, 9, 0.02, 0.05, 1},
		{"chords without noise to speak of", 14, 9, 0.005, 0.025, 1},
	} {
		ref, _ := grid(c.chord, 0, flat)
		s, err := surface.New(ctx, ref, 2, nil)
		require.NoError(t, err)
		in, all, chord := 0, 0, 0.0
		for seed := range c.seeds {
			r := rand.New(rand.NewPCG(uint64(seed), 7))
			scan, truth := grid(c.scan, 12, dent)
			normals := scan.VertexNormals()
			for i := range scan.Vertices {
				scan.Vertices[i] = scan.Vertices[i].AddScaled(c.noise*r.NormFloat64(), normals[i])
			}
			moved := geom.RotationVector(geom.Vec{X: r.NormFloat64(), Y: r.NormFloat64(), Z: r.NormFloat64()})
			moved.T = geom.Vec{X: 100 * r.NormFloat64(), Y: 100 * r.NormFloat64(), Z: 100 * r.NormFloat64()}
			scan = scan.Moved(moved)
			p, err := align.BestFit(ctx, scan, s, align.Settings{Threads: 2, Noise: c.noise}, nil)
			require.NoError(t, err)
			require.Empty(t, p.FreeMotions)
			f, err := deviation.Measure(ctx, scan.Moved(p.ReferenceFromScan), s, deviation.Settings{
				Reach: 10, Threads: 2, Doubts: true, Placing: &deviation.Placing{Covariance: p.HeldCovariance, Centre: p.Centre},
			}, nil)
			require.NoError(t, err)
			f.Expand(c.noise, 2)
			for i := range truth {
				v, ok := f.Value(i)
				require.True(t, ok)
				all++
				chord += math.Abs(float64(f.Budget[i].Chord))
				if math.Abs(v.V-truth[i]) <= v.U {
					in++
				}
			}
		}
		share := float64(in) / float64(all)
		t.Logf("%s: %.2f %% within U, mean chord error %.3f mm", c.name, 100*share, chord/float64(all))
		require.GreaterOrEqual(t, chord/float64(all), c.leastFelt, c.name)
		require.GreaterOrEqual(t, share, 0.93, c.name)
		require.LessOrEqual(t, share, 0.99, c.name)
	}
}
