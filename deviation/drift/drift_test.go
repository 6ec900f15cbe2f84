package drift_test

import (
	"context"
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation"
	"shutline/deviation/drift"
	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
	"shutline/mesh/surface"
)

const reach = 10.0

func explain(t testing.TB, ref *surface.Surface, scan *mesh.Mesh, threads int) *drift.Result {
	ctx := context.Background()
	n := scan.VertexNormals()
	field, err := deviation.Measure(ctx, scan, ref, deviation.Settings{Reach: reach, Normals: n}, nil)
	require.NoError(t, err)
	in := drift.Input{Points: scan.Vertices, Normals: n, Areas: scan.VertexAreas(), Field: field, Surface: ref, Reach: reach, Faces: scan.Faces}
	r, err := drift.Explain(ctx, in, drift.Settings{Threads: threads}, nil)
	require.NoError(t, err)
	return r
}

func surfaceOf(t testing.TB, m *mesh.Mesh) *surface.Surface {
	s, err := surface.New(context.Background(), m, 0, nil)
	require.NoError(t, err)
	return s
}

// bent returns a mesh with one shape of a size in mm, by the textbook: a beam bent to a
// circle with its sections turned along, a rod turned about its axis, a rod made longer.
func bent(m *mesh.Mesh, f drift.Frame, k drift.Kind, size float64) *mesh.Mesh {
	long, wide := f.Size[0], f.Size[1]
	return bodywork.Mapped(m, func(p geom.Vec) geom.Vec {
		d := p.Sub(f.Centre)
		x, y, z := d.Dot(f.Axes[0]), d.Dot(f.Axes[1]), d.Dot(f.Axes[2])
		switch k {
		case drift.Twist:
			s, c := geom.Sincos(size / (wide / 2) * x / long)
			y, z = c*y-s*z, s*y+c*z
		case drift.BendShort, drift.BendMiddle:
			// A circle of radius R has the sagitta L²/8R; toward +h the ends rise.
			r := long * long / (8 * size)
			s, c := geom.Sincos(x / r)
			h := &z
			if k == drift.BendMiddle {
				h = &y
			}
			x, *h = (r-*h)*s, r-(r-*h)*c
		case drift.ScaleLong:
			x *= 1 + size/long
		}
		return f.Centre.AddScaled(x, f.Axes[0]).AddScaled(y, f.Axes[1]).AddScaled(z, f.Axes[2])
	})
}

// vans are the van's side as it should be and with a wing that is twisted by 0.4° and dented: 31 % of the length.
func vans(t testing.TB) (good, wrong *bodywork.Job) {
	var out [2]*bodywork.Job
	for k := range out {
		job, err := bodywork.Van(context.Background(), bodywork.Options{Size: 60_000, Seed: 5, Perfect: k == 0, Still: true}, nil)
		require.NoError(t, err)
		out[k] = job
	}
	return out[0], out[1]
}

// The goal is 5 % or 0.03 mm. In-plane shapes of a side that is nearly flat show by a few
// hundredths of a millimetre only, and where the wing is wrong on two thirds of it: there, what the stated U says counts.
func TestShapesAreRecoveredBesideAWrongWing(t *testing.T) {
	good, wrong := vans(t)
	ref := surfaceOf(t, good.Reference)
	clean := explain(t, ref, good.Scan, 0)
	require.True(t, clean.OK, clean.Why)
	require.False(t, clean.Drifted(), "%+v", clean.Terms)
	require.Less(t, clean.Aside, 0.1)
	turn := geom.Rotation(geom.Vec{X: 1, Y: 2, Z: -1}, 2e-4) // as a placement may lie
	turn.T = geom.Vec{X: 0.1, Y: -0.2, Z: 0.15}
	for _, c := range []struct {
		kind  drift.Kind
		size  float64
		wrong bool
		most  float64 // mm or 5 %
	}{
		{drift.Twist, -3, true, 0.03},
		{drift.BendShort, 0.3, true, 0.045},
		{drift.BendMiddle, 3, true, 0.03},
		{drift.ScaleLong, -1.2, false, 0.03},
	} {
		job := good
		if c.wrong {
			job = wrong
		}
		t.Run(fmt.Sprintf("%v %g wrong wing %v", c.kind, c.size, c.wrong), func(t *testing.T) {
			scan := bent(job.Scan, clean.Frame, c.kind, c.size)
			r := explain(t, ref, bodywork.Mapped(scan, turn.Apply), 0)
			require.True(t, r.OK, r.Why)
			x := r.Terms[c.kind]
			require.True(t, x.Held, x.Why)
			require.True(t, x.Seen, "%+v", x.Size)
			off := math.Abs(x.Size.V - c.size)
			require.LessOrEqual(t, off, x.Size.U, "%+v", x.Size)
			require.LessOrEqual(t, off, max(c.most, 0.05*math.Abs(c.size)), "%+v", x.Size)
			for _, o := range r.Terms {
				if o.Kind != c.kind && o.Held {
					require.False(t, o.Seen, "%v %+v", o.Kind, o.Size)
				}
			}
			require.Greater(t, x.ShareFollowing, 0.6)
			if c.wrong {
				require.InDelta(t, 0.35, r.Aside, 0.12)
			}
			// What is left once the shape is taken out is the noise of the cells.
			require.Less(t, r.Left, 0.02)
			undone := &mesh.Mesh{Vertices: make([]geom.Vec, len(scan.Vertices)), Faces: scan.Faces}
			for i, p := range scan.Vertices {
				undone.Vertices[i] = r.Undo(turn.Apply(p))
			}
			again := explain(t, ref, undone, 0)
			left := again.Terms[c.kind].Size
			require.Less(t, math.Abs(left.V), max(0.05, 0.02*math.Abs(c.size))+left.U)
		})
	}
}

// A bend within the side's plane beside a wrong wing shows at the edges of the door and the quarter alone, which are few and narrow:
// its truth lies within U. The first look by area alone is off by 0.4 mm here; it is the edges that come back that tell more.
func TestABendInThePlaneBesideAWrongWing(t *testing.T) {
	const shared, length, size = 0.02, 6.0, -1.69
	good, wrong := vans(t)
	ref := surfaceOf(t, good.Reference)
	f := explain(t, ref, good.Scan, 0).Frame
	scan := bodywork.WithSmoothNoise(wrong.Scan, shared, length, 9)
	r := explain(t, ref, bent(scan, f, drift.BendMiddle, size), 0)
	require.True(t, r.OK, r.Why)
	x := r.Terms[drift.BendMiddle]
	require.True(t, x.Held, x.Why)
	off := math.Abs(x.Size.V - size)
	require.LessOrEqual(t, off, x.Size.U)
	require.Less(t, off, 0.06, "%+v", x.Size)
	require.Less(t, x.Size.U, 0.1)
}

// A plane moves along its normal by twist, bend across and nothing else: scales and the bend within the plane
// are not held.
func TestAPlaneHoldsTwistAndBendAlone(t *testing.T) {
	m := bodywork.Plane(2000, 800, 12)
	r := explain(t, surfaceOf(t, m), bodywork.WithNoise(m, 0.03, 3), 0)
	require.True(t, r.OK, r.Why)
	for _, x := range r.Terms {
		want := x.Kind == drift.Twist || x.Kind == drift.BendShort
		require.Equal(t, want, x.Held, "%v", x.Kind)
		if !want {
			require.NotEmpty(t, x.Why)
			require.False(t, x.Size.OK)
			require.False(t, x.Seen)
		}
	}
}

// Of a twist of a mm over half the width the RMS on a plane is a·2/(Lx·Ly)·Lx·Ly/12 = a/6, of a bend with
// sagitta s after the best line 0.2981 s (trade tables, computed for a plane).
func TestSizesOnAPlane(t *testing.T) {
	m := bodywork.Plane(1500, 600, 12)
	ref := surfaceOf(t, m)
	f := explain(t, ref, m, 0).Frame
	twisted := explain(t, ref, bent(m, f, drift.Twist, 0.3), 0)
	require.InDelta(t, 0.3, twisted.Terms[drift.Twist].Size.V, 0.001)
	require.InDelta(t, 0.3/300*180/math.Pi, twisted.Terms[drift.Twist].Value.V, 0.001*180/math.Pi/300)
	require.InDelta(t, 0.3/6, twisted.RMS, 0.0015) // means of cells smooth it by a hundredth or two
	require.InDelta(t, 1, twisted.Total, 0.002)
	sagged := explain(t, ref, bent(m, f, drift.BendShort, 0.3), 0)
	require.InDelta(t, 0.3, sagged.Terms[drift.BendShort].Size.V, 0.001)
	require.InDelta(t, 0.2981*0.3, sagged.RMS, 0.003)
}

func TestTooLittleIsSaid(t *testing.T) {
	m := bodywork.Plane(100, 20, 12)
	r := explain(t, surfaceOf(t, m), m, 0)
	require.False(t, r.OK)
	require.Contains(t, r.Why, "too few")
}

// The same on one thread and on three.
func TestThreadsDoNotMatter(t *testing.T) {
	_, wrong := vans(t)
	ref := surfaceOf(t, wrong.Reference)
	require.Equal(t, explain(t, ref, wrong.Scan, 1), explain(t, ref, wrong.Scan, 3))
}

func TestStopsWhenAsked(t *testing.T) {
	m := bodywork.Plane(1000, 500, 8)
	ref := surfaceOf(t, m)
	field, err := deviation.Measure(context.Background(), m, ref, deviation.Settings{Reach: reach}, nil)
	require.NoError(t, err)
	ctx, stop := context.WithCancel(context.Background())
	stop()
	_, err = drift.Explain(ctx, drift.Input{Points: m.Vertices, Field: field, Surface: ref, Reach: reach}, drift.Settings{}, nil)
	require.ErrorIs(t, err, context.Canceled)
}

// A side that is longer by 3 mm has its edges 1.5 mm off, more than their radius of 1.2 mm: they are not found again, and on the
// faces alone a scale looks like a bend of the bulge. Then neither has a number; none that is wrong.
func TestEdgesThatLeftTheirPlacesTellNothing(t *testing.T) {
	good, _ := vans(t)
	ref := surfaceOf(t, good.Reference)
	f := explain(t, ref, good.Scan, 0).Frame
	r := explain(t, ref, bent(good.Scan, f, drift.ScaleLong, 3), 0)
	require.True(t, r.OK, r.Why)
	require.False(t, r.Drifted(), "%+v", r.Terms)
	require.False(t, r.Terms[drift.BendShort].Held)
	require.NotEmpty(t, r.Terms[drift.BendShort].Why)
}
