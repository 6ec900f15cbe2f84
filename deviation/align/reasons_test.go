package align

import (
	"context"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
)

// bracketScan is a noisy scan of the folded bracket in a random pose.
func bracketScan(triangles int, seed uint64) (*mesh.Mesh, geom.Rigid) {
	pose := randomPose(rand.New(rand.NewPCG(seed, 11)))
	m := bodywork.Bracket(bodywork.Sampling{Triangles: triangles, Jitter: true, Seed: seed})
	return noisy(m, 0.02, seed).Moved(pose), pose
}

func times(m *mesh.Mesh, scale float64) *mesh.Mesh {
	out := &mesh.Mesh{Faces: m.Faces}
	for _, v := range m.Vertices {
		out.Vertices = append(out.Vertices, v.Scale(scale))
	}
	return out
}

func turnedOver(m *mesh.Mesh) *mesh.Mesh {
	out := &mesh.Mesh{Vertices: m.Vertices}
	for _, f := range m.Faces {
		out.Faces = append(out.Faces, [3]uint32{f[0], f[2], f[1]})
	}
	return out
}

// What hinders a placement is named, with a number that shows it; what was done
// to the scan is known by construction.
func TestAScanThatDoesNotFitIsToldWhy(t *testing.T) {
	s := surfaceOf(t, bodywork.Bracket(bodywork.Sampling{Triangles: 20000}))
	scan, _ := bracketScan(16000, 1)
	for name, c := range map[string]struct {
		scan *mesh.Mesh
		want string
	}{
		"inches":     {times(scan, 1/25.4), "its inches were read as millimetres"},
		"inside out": {turnedOver(scan), "looks inside out"},
	} {
		_, err := BestFit(context.Background(), c.scan, s, Settings{}, nil)
		require.ErrorIs(t, err, ErrNoOverlap, name)
		require.ErrorIs(t, err, ErrReadWrongly, name)
		require.ErrorContains(t, err, c.want, name)
		require.ErrorContains(t, err, "scatter of 0.0", name)
	}
}

// Two meshes that are both inside out fit, but every deviation has the wrong sign.
func TestBothInsideOutIsSaid(t *testing.T) {
	s := surfaceOf(t, turnedOver(bodywork.Bracket(bodywork.Sampling{Triangles: 20000})))
	scan, pose := bracketScan(16000, 2)
	p, err := BestFit(context.Background(), turnedOver(scan), s, Settings{}, nil)
	require.NoError(t, err)
	require.Less(t, placementError(p.ReferenceFromScan, pose, s.Mesh), 0.02)
	// A sheet of 2 mm with the area of its two skins: 68 cm³ (see the bracket's own test).
	require.Contains(t, strings.Join(p.Notes, " "), "its volume comes out as -68")
}

// A floor and a wall that together are six times the part do not keep it from being placed.
func TestAFloorLargerThanThePartIsLeftOut(t *testing.T) {
	m := bodySide(14, 0.9)
	s := surfaceOf(t, m)
	x, y, z := geom.Vec{X: 1}, geom.Vec{Y: 1}, geom.Vec{Z: 1}
	floor := sheet(geom.Vec{X: -1200, Y: -2200, Z: -300}, x.Scale(4800), y.Scale(2000), 25)
	wall := sheet(geom.Vec{X: -1200, Y: -1200, Z: -300}, z.Scale(1200), x.Scale(3600), 25)
	pose := randomPose(rand.New(rand.NewPCG(3, 3)))
	scan := noisy(bodywork.Together(bodySide(12, 1), floor, wall), 0.03, 4).Moved(pose)
	p, err := BestFit(context.Background(), scan, s, Settings{}, nil)
	require.NoError(t, err)
	require.Less(t, placementError(p.ReferenceFromScan, pose, m), 0.1)
}

// What was scanned beside a part that is there as a whole does not make it another part.
func TestSurroundingsAreNotAnotherPart(t *testing.T) {
	m := bodySide(14, 0.9)
	s := surfaceOf(t, m)
	aside := geom.Identity()
	aside.T = geom.Vec{Y: -2500}
	barrel := bodywork.CylinderPatch(600, 4, 3.5*m.Area()/2400, 25).Moved(aside)
	scan := noisy(bodywork.Together(bodySide(12, 1), barrel), 0.03, 4)
	p, err := BestFit(context.Background(), scan, s, Settings{}, nil)
	require.NoError(t, err)
	require.Less(t, placementError(p.ReferenceFromScan, geom.Identity(), m), 0.1)
	require.Less(t, p.ShareUsed, shareDoubtful)
	require.Contains(t, strings.Join(p.Notes, " "), "the others may be surroundings")
	require.NotContains(t, strings.Join(p.Notes, " "), "check that it is the same part")
}

// Three tenths of the part are wrong: a whole corner stands off by up to 6 mm,
// and there is a dent. The rest decides.
func TestDamageDoesNotDrag(t *testing.T) {
	m := bodywork.SmoothSide(bodywork.Sampling{Triangles: 30000})
	s := surfaceOf(t, m)
	scan := bodywork.SmoothSide(bodywork.Sampling{Triangles: 40000, Jitter: true, Seed: 5})
	wrong := 0
	for i, p := range scan.Vertices {
		if p.X > 1700 {
			scan.Vertices[i].Y += 6 * (p.X - 1700) / 700
			wrong++
		}
	}
	require.InDelta(t, 0.3, float64(wrong)/float64(len(scan.Vertices)), 0.04)
	pose := randomPose(rand.New(rand.NewPCG(6, 6)))
	p, err := BestFit(context.Background(), noisy(scan, 0.03, 8).Moved(pose), s, Settings{}, nil)
	require.NoError(t, err)
	require.Less(t, placementError(p.ReferenceFromScan, pose, m), 0.2, "mm; pulled along it would be millimetres")
}

// A scan that is bent by 1.5 mm has no true place to 0.02 mm, and says so: the
// truth lies within what is stated.
func TestABentScanHasALargeUncertainty(t *testing.T) {
	m := bodywork.SmoothSide(bodywork.Sampling{Triangles: 30000})
	s := surfaceOf(t, m)
	scan := bodywork.SmoothSide(bodywork.Sampling{Triangles: 40000, Jitter: true, Seed: 7})
	for i, p := range scan.Vertices {
		u := p.X/1200 - 1
		scan.Vertices[i].Y += 1.5 * (u*u - 1.0/3)
	}
	p, err := BestFit(context.Background(), noisy(scan, 0.03, 8), s, Settings{}, nil)
	require.NoError(t, err)
	along := p.Along(p.ReferenceFromScan)
	worst := 0.0
	for k, d := range p.Directions {
		if d.Free {
			continue
		}
		worst = max(worst, d.Sigma)
		require.Less(t, along[k]*along[k], 9*d.Sigma*d.Sigma, "direction %d is off by %v with a sigma of %v", k, along[k], d.Sigma)
	}
	require.Greater(t, worst, 0.05)
}

// A result tells how the residuals are spread and which pose came second.
func TestAResultCarriesItsEvidence(t *testing.T) {
	s := surfaceOf(t, bodywork.Bracket(bodywork.Sampling{Triangles: 20000}))
	scan, _ := bracketScan(16000, 3)
	p, err := BestFit(context.Background(), scan, s, Settings{}, nil)
	require.NoError(t, err)
	require.Greater(t, p.Overlap.Fine, 0.97)
	require.False(t, p.Ambiguous)
	require.NotNil(t, p.RunnerUp)
	require.Greater(t, p.RunnerUp.Lead, clearly)
	require.Greater(t, p.RunnerUp.Loss, p.RunnerUp.BestLoss)
	total, inside := p.Residuals.Below+p.Residuals.Above+p.Residuals.Unpaired, 0
	for k, n := range p.Residuals.Count {
		total += n
		// Within one standard deviation of the noise of 0.02 mm lie 68 % of normal numbers.
		if lo := float64(k-residualBins/2) * p.Residuals.Width; lo > -0.02-p.Residuals.Width/2 && lo < 0.02-p.Residuals.Width/2 {
			inside += n
		}
	}
	require.Equal(t, len(scan.Vertices), total)
	require.InDelta(t, 0.68, float64(inside)/float64(total), 0.1)
}

// Few points and no normals must not end at a wrong place without a word.
func TestACoarseCloudIsPlacedOrDoubted(t *testing.T) {
	m := bodySide(14, 0.9)
	s := surfaceOf(t, m)
	pose := randomPose(rand.New(rand.NewPCG(9, 9)))
	cloud := &mesh.Mesh{Vertices: noisy(bodySide(16, 2.5), 0.03, 4).Moved(pose).Vertices}
	require.InDelta(t, 11000, len(cloud.Vertices), 3000)
	p, err := BestFit(context.Background(), cloud, s, Settings{}, nil)
	require.NoError(t, err)
	require.Less(t, placementError(p.ReferenceFromScan, pose, m), 1.0)
}
