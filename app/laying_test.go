package app_test

import (
	"context"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/inspection"
	"shutline/deviation/gapflush"
	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
	"shutline/mesh/meshio"
	"shutline/mesh/surface"
)

// vanParts is the generator's van as read and placed, with or without its drawing.
func vanParts(t *testing.T, drawn bool) (*bodywork.Job, *inspection.Inspection, *app.Parts, *app.Placed) {
	ctx := context.Background()
	job, err := bodywork.Van(ctx, bodywork.Options{Size: 60_000, Seed: 4}, nil)
	require.NoError(t, err)
	placed := &app.Placed{Mesh: job.Scan.Moved(job.ReferenceFromScan)}
	parts := &app.Parts{Scan: &meshio.Loaded{Mesh: job.Scan}}
	i := inspection.Default("scan.stl", "")
	if drawn {
		i = inspection.Default("scan.stl", "reference.stl")
		parts.Mirrored = job.Reference
		parts.Surface, err = surface.New(ctx, job.Reference, 0, nil)
		require.NoError(t, err)
	}
	return job, i, parts, placed
}

// beside returns how far each true middle of a gap lies beside the path, mm, sorted.
func beside(truth []bodywork.StationTruth, path []geom.Vec) []float64 {
	var off []float64
	for _, s := range truth {
		mid := s.Nose[0].Lerp(s.Nose[1], 0.5)
		up := s.Shoulder[0].Lerp(s.Shoulder[1], 0.5).Sub(mid).Unit()
		across := s.Nose[1].Sub(s.Nose[0])
		across = across.AddScaled(-across.Dot(up), up).Unit()
		best, aside := math.Inf(1), 0.0
		for k := 1; k < len(path); k++ {
			d := path[k].Sub(path[k-1])
			q := path[k-1].Lerp(path[k], min(1, max(0, mid.Sub(path[k-1]).Dot(d)/d.Norm2())))
			if q.Dist(mid) < best {
				best, aside = q.Dist(mid), math.Abs(q.Sub(mid).Dot(across))
			}
		}
		off = append(off, aside)
	}
	slices.Sort(off)
	return off
}

func lay(i *inspection.Inspection, parts *app.Parts, placed *app.Placed) (*inspection.Inspection, []app.SeamPath, error) {
	return app.LaySeams(context.Background(), i, parts, placed, app.Settings{}, nil)
}

func TestTwoTypedPointsFollowTheGap(t *testing.T) {
	for _, drawn := range []bool{true, false} {
		job, i, parts, placed := vanParts(t, drawn)
		truth, err := job.ScanStations(context.Background(), nil)
		require.NoError(t, err)
		if drawn {
			truth = job.ReferenceStations()
		}
		for _, spec := range job.Seams {
			own := slices.DeleteFunc(slices.Clone(truth), func(s bodywork.StationTruth) bool {
				return s.Seam != spec.Name || s.State == string(gapflush.SideMissing)
			})
			// Typed by hand, some mm beside the gap and the wrong way round: the tool sets side A.
			n := len(spec.Path)
			typed := gapflush.DefaultSeam(spec.Name, []geom.Vec{spec.Path[n-1].Add(geom.Vec{X: 3}), spec.Path[0].Add(geom.Vec{X: -3})})
			typed.Every = 40
			i.Seams, i.SeamPictures, i.SeamLaying = []gapflush.Seam{typed}, []string{"none"}, []inspection.Laying{inspection.Traced}
			laid, paths, err := lay(i, parts, placed)
			require.NoError(t, err)
			require.Len(t, laid.Seams, 1)
			require.True(t, laid.AllTyped())
			require.Equal(t, 40.0, laid.Seams[0].Every)
			require.Equal(t, paths[0].Path, laid.Seams[0].Path)
			off := beside(own, paths[0].Path)
			require.Less(t, off[len(off)*95/100], 0.5, "%s, with a drawing: %v", spec.Name, drawn)
			first, last := paths[0].Path[0], paths[0].Path[len(paths[0].Path)-1]
			require.Less(t, first.Z, last.Z, "upward on the left side: side A, on the left hand, is the front")
			require.Len(t, i.Seams[0].Path, 2, "the inspection given stays as it is")
		}
	}
}

func TestFoundSeamsLeaveOutWhatIsThereAlready(t *testing.T) {
	job, i, parts, placed := vanParts(t, true)
	find := gapflush.DefaultSeam("found", nil)
	find.Master = gapflush.B
	i.Seams = []gapflush.Seam{gapflush.DefaultSeam("by hand", job.Seams[1].Path), find}
	i.SeamPictures = []string{"none", "all"}
	i.SeamLaying = []inspection.Laying{inspection.Typed, inspection.Found}
	laid, paths, err := lay(i, parts, placed)
	require.NoError(t, err)
	require.Len(t, laid.Seams, 2, "the other shut line alone is new")
	require.Equal(t, job.Seams[1].Path, laid.Seams[0].Path)
	require.Equal(t, "left upright at x 760", laid.Seams[1].Name)
	require.Equal(t, gapflush.B, laid.Seams[1].Master)
	require.Equal(t, []string{"none", "all"}, laid.SeamPictures)
	require.Equal(t, "sure", paths[1].SureWord)
	require.InDelta(t, 4, paths[1].Width, 0.2)

	// A reference whose axes are its own has no left and no up.
	i.Reference.Axes = inspection.AxesOwn
	laid, _, err = lay(i, parts, placed)
	require.NoError(t, err)
	require.Equal(t, "side -y along z at x 760", laid.Seams[1].Name)
}

func TestTracingSaysWhyItCannot(t *testing.T) {
	job, i, parts, placed := vanParts(t, true)
	a, b := job.Seams[0].Path, job.Seams[1].Path
	i.SeamLaying = []inspection.Laying{inspection.Traced}
	for _, c := range []struct {
		name string
		path []geom.Vec
		says string
	}{
		{"on different seams", []geom.Vec{a[0], b[len(b)-1]}, "the points lie on different seams (left upright at x 760; left upright at x 1620); trace each"},
		{"in the middle of the door", []geom.Vec{{X: 1200, Y: 0, Z: 200}, {X: 1200, Y: 0, Z: 700}}, "the surface runs on without a gap on 100 % of the way: neither point lies within 25 mm of a shut line"},
		{"one beside the gap", []geom.Vec{a[0], {X: 1200, Y: 0, Z: 700}}, "the last point does not lie within 25 mm of a shut line"},
		{"off the body", []geom.Vec{a[0], {X: 1000, Y: -900, Z: 300}}, "point 2 of its path, (1000.0, -900.0, 300.0), lies more than 30 mm from the reference"},
	} {
		i.Seams = []gapflush.Seam{gapflush.DefaultSeam("door", c.path)}
		_, _, err := lay(i, parts, placed)
		var bad *app.InputError
		require.ErrorAs(t, err, &bad, c.name)
		require.Contains(t, err.Error(), c.says, c.name)
		require.Contains(t, err.Error(), `seam "door"`, c.name)
	}
	// A body without shut lines.
	i, parts.Mirrored = inspection.Default("scan.stl", "reference.stl"), bodywork.Plane(600, 400, 5)
	i.Seams, i.SeamLaying = []gapflush.Seam{gapflush.DefaultSeam("found", nil)}, []inspection.Laying{inspection.Found}
	_, _, err := lay(i, parts, &app.Placed{Mesh: &mesh.Mesh{}})
	require.ErrorContains(t, err, "no shut line was found on the reference")
}
