package gapflush_test

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/gapflush"
	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
)

// beside checks the stations of a path that was moved aside of the gap: what has a
// value has it within 3 U of the truth, and farther than 12 mm nothing has one.
type beside struct {
	far, offPath   int // stations farther than 12 mm aside, and those of them that say so
	near, measured int // within 5 mm
	missing        int // within 12 mm, said to lack a panel
}

func (b *beside) check(t *testing.T, name string, st *gapflush.Station, aside, gap, flush float64) {
	t.Helper()
	if st.Gap.OK {
		require.LessOrEqual(t, math.Abs(st.Gap.V-gap), 3*st.Gap.U, "%s, station %d, gap", name, st.Index)
	}
	if st.Flush.OK {
		require.LessOrEqual(t, math.Abs(st.Flush.V-flush), 3*st.Flush.U, "%s, station %d, %s, flush", name, st.Index, st.State)
	}
	if aside = math.Abs(aside); aside <= 5 {
		b.near++
		if st.State == gapflush.Measured {
			b.measured++
		}
	}
	if aside <= 12 {
		if st.State == gapflush.SideMissing && !strings.Contains(st.Why, "from the path") { // both panels are in the scan
			b.missing++
		}
		return
	}
	b.far++
	require.False(t, st.Gap.OK || st.Feeler.OK || st.Flush.OK || st.Angle.OK, "%s, station %d has a value", name, st.Index)
	require.NotEmpty(t, st.Why)
	if st.State == gapflush.OffPath {
		b.offPath++
		require.False(t, st.Side[gapflush.A].Found || st.Side[gapflush.B].Found)
	}
}

// enough requires that four fifths of the stations far aside say off-path.
func (b *beside) enough(t *testing.T, name string) {
	t.Helper()
	require.GreaterOrEqual(t, float64(b.offPath), 0.8*float64(b.far), "%s: %d of %d are off-path", name, b.offPath, b.far)
}

// course is a path's way aside, in mm, at a share of its length.
type course struct {
	name string
	at   func(u float64) float64
}

// courses are paths moved aside by 3 to 40 mm, and paths that bow away and return.
func courses(shifts, bows []float64) (out []course) {
	for _, d := range shifts {
		for _, d := range []float64{d, -d} {
			out = append(out, course{fmt.Sprintf("moved by %g mm", d), func(float64) float64 { return d }})
		}
	}
	for _, d := range bows {
		for _, d := range []float64{d, -d} {
			out = append(out, course{fmt.Sprintf("bowed by %g mm", d), func(u float64) float64 { return d * math.Pow(math.Sin(math.Pi*u), 2) }})
		}
	}
	return out
}

func TestPathBesideTheGap(t *testing.T) {
	for i, o := range []bodywork.SeamPieceOptions{
		{Radius: [2]float64{1.5, 1.5}, Gap: 4, Flush: 0.7, Noise: 0.03, Jitter: 0.3, Seed: 1},
		{Radius: [2]float64{1.5, 1.5}, Gap: 4, Flush: -0.7, Noise: 0.03, Jitter: 0.3, Seed: 2, Return: 8},
		{Radius: [2]float64{1.5, 1.5}, Gap: 4, Flush: 0.7, Noise: 0.03, Jitter: 0.3, Seed: 2, Seen: [2]float64{0.3, 1.2}},
		{Radius: [2]float64{1, 1.5}, Gap: 5, Flush: -0.4, Angle: 0.1, Noise: 0.02, Jitter: 0.3, Seed: 3, Seen: [2]float64{1, 0.3}},
		{Radius: [2]float64{2, 1.5}, Gap: 2.5, Flush: 0.3, Noise: 0.03, Jitter: 0.3, Seed: 4, Spacing: 2},
	} {
		o.Width, o.Length = 90, 150
		p, s := piece(o)
		s.Every = 12.5
		fine := o.Seen == [2]float64{} && o.Spacing == 0
		for _, c := range courses([]float64{3, 5, 8, 11, 12.5, 14, 17, 25, 40}, []float64{10, 18}) {
			name := fmt.Sprintf("piece %d, path %s", i+1, c.name)
			var b beside
			r := measure(t, p.Mesh, bent(s, c.at, geom.Vec{X: 1}), gapflush.Settings{})
			for k := range r.Stations {
				st := &r.Stations[k]
				b.check(t, name, st, st.P.X, p.Truth[0].Gap, p.Truth[0].Flush)
			}
			b.enough(t, name)
			require.Zero(t, b.missing, name)
			if fine {
				require.GreaterOrEqual(t, float64(b.measured), 0.9*float64(b.near), name)
			}
		}
	}
}

// A path that runs under the skins, as a chord of a vaulted body does, lies beside them: no panel is missing.
func TestPathUnderTheSkinsSaysSo(t *testing.T) {
	p, s := piece(bodywork.SeamPieceOptions{Radius: [2]float64{1.5, 1.5}, Gap: 4, Noise: 0.03, Jitter: 0.3, Seed: 2, Return: 14, Width: 90, Length: 150})
	r := measure(t, p.Mesh, bent(s, func(float64) float64 { return -13 }, geom.Vec{Z: 1}), gapflush.Settings{})
	for k := range r.Stations {
		require.Equal(t, gapflush.OffPath, r.Stations[k].State, r.Stations[k].Why)
	}
}

// bent moves a straight path aside along its course.
func bent(s gapflush.Seam, aside func(u float64) float64, dir geom.Vec) gapflush.Seam {
	from, to := s.Path[0], s.Path[len(s.Path)-1]
	const legs = 60
	s.Path = nil
	for i := 0; i <= legs; i++ {
		u := float64(i) / legs
		s.Path = append(s.Path, from.Lerp(to, u).AddScaled(aside(u), dir))
	}
	return s
}

// The van's gaps with paths drawn beside them, with and without a reference.
func TestVanPathBesideTheGap(t *testing.T) {
	ctx := context.Background()
	job, err := bodywork.Van(ctx, bodywork.Options{Size: 40_000, Seed: 1}, nil)
	require.NoError(t, err)
	placed := job.Scan.Moved(job.ReferenceFromScan)
	drawn := job.ReferenceStations()
	seams := job.Seams
	for i := range seams {
		for _, c := range courses([]float64{3, 11, 13, 40}, []float64{18}) {
			spec := seams[i]
			spec.Path = movedAside(spec, drawn, c.at)
			job.Seams = []bodywork.SeamSpec{spec}
			truth, err := job.ScanStations(ctx, nil)
			require.NoError(t, err)
			for _, ref := range []*mesh.Mesh{job.Reference, nil} {
				name := fmt.Sprintf("%s, path %s, reference %t", spec.Name, c.name, ref != nil)
				seam := gapflush.DefaultSeam(spec.Name, spec.Path)
				seam.Master = gapflush.Side(spec.Master)
				r, err := gapflush.Measure(ctx, placed, ref, seam, gapflush.Settings{}, nil)
				require.NoError(t, err)
				var b beside
				for k := range r.Stations {
					mid := truth[k].Shoulder[0].Lerp(truth[k].Shoulder[1], 0.5).Sub(r.Stations[k].P)
					b.check(t, name, &r.Stations[k], mid.AddScaled(-mid.Dot(r.Stations[k].U), r.Stations[k].U).Norm(), truth[k].Gap, truth[k].Flush)
				}
				b.enough(t, name)
			}
		}
	}
}

// movedAside moves a seam's path along its course, from side A toward B.
func movedAside(spec bodywork.SeamSpec, drawn []bodywork.StationTruth, aside func(u float64) float64) (path []geom.Vec) {
	full := spec.Path[0].Dist(spec.Path[len(spec.Path)-1])
	for _, v := range spec.Path {
		best, dir := math.Inf(1), geom.Vec{}
		for k := range drawn {
			if d := drawn[k].P.Dist(v); drawn[k].Seam == spec.Name && d < best {
				best, dir = d, drawn[k].Shoulder[1].Sub(drawn[k].Shoulder[0]).Unit()
			}
		}
		path = append(path, v.AddScaled(aside(v.Dist(spec.Path[0])/full), dir))
	}
	return path
}

// A stretch where faces run flat across the gap is told from a place beside the gap
// by the stations on either side.
func TestFlatBridge(t *testing.T) {
	p, s := hemmed()
	cut := bodywork.Without(p.Mesh, func(c geom.Vec) bool { return math.Abs(c.X) < 3.6 && math.Abs(c.Y-100) < 20 })
	sheet := bodywork.Mapped(bodywork.Plane(7.2, 40, 1.2), func(v geom.Vec) geom.Vec { return v.Add(geom.Vec{X: -3.6, Y: 80}) })
	m := bodywork.Together(cut, sheet)
	n := 0
	for _, st := range measure(t, m, s, gapflush.Settings{}).Stations {
		if math.Abs(st.P.Y-100) > 30 {
			require.Equal(t, gapflush.Measured, st.State, st.Why)
			require.LessOrEqual(t, math.Abs(st.Gap.V-4), 3*st.Gap.U)
			continue
		}
		n++
		require.Equal(t, gapflush.Bridged, st.State, st.Why)
		require.False(t, st.Gap.OK || st.Flush.OK)
	}
	require.Equal(t, 2, n)
	aside := bent(s, func(float64) float64 { return 15 }, geom.Vec{X: 1})
	requireStates(t, m, aside, gapflush.OffPath)
}

// A hole in a plain panel is no gap: the panel is joined at its ends.
func TestHoleIsNoGap(t *testing.T) {
	for _, width := range []float64{3, 5, 8} {
		flat := bodywork.Mapped(bodywork.Plane(120, 200, 1.2), func(v geom.Vec) geom.Vec { return v.Add(geom.Vec{X: -60}) })
		holed := bodywork.Without(bodywork.WithNoise(flat, 0.03, 1), func(c geom.Vec) bool {
			return math.Abs(c.X) < width/2 && math.Abs(math.Mod(c.Y, 25)-12.5) < 9
		})
		s := gapflush.DefaultSeam("hole", []geom.Vec{{}, {Y: 200}})
		for _, st := range measure(t, holed, s, gapflush.Settings{}).Stations {
			require.Equal(t, gapflush.OffPath, st.State, "%g mm: %s", width, st.Why)
			require.False(t, st.Gap.OK || st.Flush.OK)
		}
	}
}

// A path that floats over the surface finds no seam.
func TestFloatingPath(t *testing.T) {
	p, s := hemmed()
	for _, h := range []float64{-25, -15, 12, 19, 30} {
		over := bent(s, func(float64) float64 { return h }, geom.Vec{Z: 1})
		requireStates(t, p.Mesh, over, gapflush.OffPath)
	}
}

// A path that turns back along its gap has side A on the other hand: there flush would
// read with the wrong sign.
func TestPathTurnsBack(t *testing.T) {
	p, s := piece(bodywork.SeamPieceOptions{Radius: [2]float64{1.5, 1.5}, Gap: 4, Flush: 0.7, Length: 300, Noise: 0.03, Seed: 2, Jitter: 0.3})
	s.Path = []geom.Vec{{Y: 100}, {Y: 250}, {Y: 20}}
	for _, ref := range []*mesh.Mesh{nil, p.Mesh} {
		r, err := gapflush.Measure(context.Background(), p.Mesh, ref, s, gapflush.Settings{}, nil)
		require.NoError(t, err)
		require.Len(t, r.Stations, 15)
		requireFlush(t, 0.7, r.Stations[:6])
		for _, st := range r.Stations {
			if st.Along < 150 {
				require.Equal(t, gapflush.Measured, st.State, st.Why)
				continue
			}
			require.Equal(t, gapflush.OffPath, st.State)
			require.False(t, st.Gap.OK || st.Flush.OK)
			require.NotEmpty(t, st.Why)
		}
	}
}
