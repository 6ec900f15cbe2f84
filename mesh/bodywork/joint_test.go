package bodywork

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh/geom"
)

// Gap and flush of a joint as its own samples show them: along A's face the noses
// lie farther into the gap than any other sample of their edge, but for walls that
// advance because the face leans, and those are undercut here.
func TestJointIsAsAskedFor(t *testing.T) {
	edges := []JointEdge{
		{Form: Round, Radius: 1.2},
		{Form: Chamfered, Cut: 1, Fall: math.Pi / 4, Wall: 2, Undercut: 0.2},
		{Form: SharpCorner, Wall: 2, Undercut: 0.2},
	}
	for _, a := range edges {
		for _, b := range edges {
			for _, angle := range []float64{0, 0.1} {
				j := NewJoint(JointOptions{Edge: [2]JointEdge{a, b}, Gap: 3.5, Flush: -0.4, Angle: angle, Length: 0.2, Width: 20, Spacing: 0.01})
				left, right := math.Inf(-1), math.Inf(1)
				var far, low geom.Vec
				for _, v := range j.Mesh.Vertices {
					if v.X < 0 {
						left = max(left, v.X)
					} else {
						right = min(right, v.X)
					}
					if v.X > far.X {
						far = v
					}
					if v.X < low.X {
						low = v
					}
				}
				require.InDelta(t, 3.5, right-left, 1e-3, "%v %v", a.Form, b.Form)
				require.InDelta(t, j.Nose[1].S-j.Nose[0].S, 3.5, 1e-12)
				require.InDelta(t, 0, low.Z, 1e-12)
				// B's face meets its shoulder at the flush asked for.
				require.InDelta(t, -0.4, far.Z+(far.X-j.Shoulder[1].S)*math.Tan(angle), 1e-9)
			}
		}
	}
}

// A pass over a ring of neighbours h apart moves a vertex of a cylinder of radius r
// inward by h²/4r, the mean of the sagitta (h cos)²/2r over the ring's directions.
func TestSmoothingShrinks(t *testing.T) {
	const r, h = 50.0, 1.0
	m := CylinderPatch(r, 0.3, 30, h)
	s := Smoothed(m, 1, 1)
	sum, n := 0.0, 0.0
	for _, v := range s.Vertices {
		if d := math.Hypot(v.X, v.Z); v.Y > 5 && v.Y < 25 && math.Abs(v.X) < 10 {
			sum += r - d
			n++
		}
	}
	// A grid of squares with one diagonal has four neighbours at h and two at √2 h,
	// whose squares across sum to 2 + 2 = 4 of 6: 4/6 h²/2r.
	require.InEpsilon(t, h*h/(3*r), sum/n, 0.05)
}
