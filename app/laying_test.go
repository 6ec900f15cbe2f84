package app_test

import (
	"context"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/inspection"
	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
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
	good := gapflush.DefaultSeam("good", []geom.Vec{b[0], b[len(b)-1]})
	good.Every = 100
	i.SeamLaying = []inspection.Laying{inspection.Traced, inspection.Traced}
	for _, c := range []struct {
		name string
		path []geom.Vec
		says string
	}{
		{"on different seams", []geom.Vec{a[0], b[len(b)-1]}, "the points lie on different seams (left upright at x 760; left upright at x 1620); trace each"},
		{"in the middle of the door", []geom.Vec{{X: 1200, Y: 0, Z: 200}, {X: 1200, Y: 0, Z: 700}}, "the surface runs on without a gap on 100 % of the way: neither point lies within 25 mm of a shut line"},
		{"one beside the gap", []geom.Vec{a[0], {X: 1200, Y: 0, Z: 700}}, "the last point does not lie within 25 mm of a shut line"},
		{"off the body", []geom.Vec{a[0], {X: 1000, Y: -900, Z: 300}}, "point 2 of its path, (1000.0, -900.0, 300.0), lies 9"},
	} {
		bad := gapflush.DefaultSeam("door", c.path)
		bad.Gap = gapflush.Target{Judged: true, Tolerance: verdict.Tolerance{Lo: -1, Hi: 1}}
		i.Seams = []gapflush.Seam{bad, good}
		laid, paths, err := lay(i, parts, placed)
		require.NoError(t, err, c.name)
		require.Contains(t, paths[0].Why, c.says, c.name)
		require.Equal(t, c.path, laid.Seams[0].Path, "as it was typed")
		require.Empty(t, paths[1].Why, "the other seam is traced all the same")
		r, err := app.MeasureSeam(context.Background(), laid, laid.Seams[0], parts, placed, app.Settings{}, nil)
		require.NoError(t, err)
		require.Equal(t, paths[0].Why, r.Unlaid)
		require.Empty(t, r.Stations)
		require.Equal(t, verdict.Undecided, r.Verdict)
		require.Equal(t, "good", laid.Seams[1].Name)

		// It is filed as it was typed, and its points moved onto the gap it is to be traced along them.
		file, fixed := app.AsFiled(laid)
		require.Equal(t, i, file, c.name)
		require.Empty(t, fixed)
		moved := *laid
		moved.Seams = slices.Clone(laid.Seams)
		require.True(t, app.LaidOn(&moved, parts, placed))
		moved.Seams[0].Path = []geom.Vec{a[0], a[len(a)-1]}
		require.False(t, app.LaidOn(&moved, parts, placed))
		file, fixed = app.AsFiled(&moved)
		require.Equal(t, i.SeamLaying, file.SeamLaying)
		require.Equal(t, moved.Seams[0].Path, file.Seams[0].Path)
		require.Empty(t, fixed)
		again, paths, err := lay(file, parts, placed)
		require.NoError(t, err)
		require.Empty(t, paths[0].Why)
		require.Equal(t, bad.Gap, again.Seams[0].Gap)
	}
	// A search leaves out what is traced, not what could not be, and goes on where a stretch does not fit.
	bad := gapflush.DefaultSeam("door", []geom.Vec{{X: 1200, Y: 0, Z: 200}, {X: 1200, Y: 0, Z: 700}})
	i.Seams = []gapflush.Seam{bad, good, gapflush.DefaultSeam("found", nil)}
	i.SeamLaying = append(i.SeamLaying, inspection.Found)
	i.Stretches = []inspection.Stretch{{Seam: "good", From: 2000, To: 3000, HasGap: true}}
	laid, paths, err := lay(i, parts, placed)
	require.NoError(t, err)
	require.Len(t, laid.Seams, 3)
	require.Contains(t, paths[1].Why, "mm long, so that no stretch can begin at 2000 mm")
	require.Equal(t, "left upright at x 760", laid.Seams[2].Name)
	file, _ := app.AsFiled(laid)
	require.Equal(t, i, file)

	// Of a typed path the file alone tells that, and the inspection is refused.
	i.SeamLaying[1] = inspection.Typed
	_, _, err = lay(i, parts, placed)
	var refused *app.InputError
	require.ErrorAs(t, err, &refused)
	require.ErrorContains(t, err, `seam "good": its path is`)

	// A body without shut lines.
	i, parts.Mirrored = inspection.Default("scan.stl", "reference.stl"), bodywork.Plane(600, 400, 5)
	i.Seams, i.SeamLaying = []gapflush.Seam{gapflush.DefaultSeam("found", nil)}, []inspection.Laying{inspection.Found}
	laid, paths, err = lay(i, parts, &app.Placed{Mesh: &mesh.Mesh{}})
	require.NoError(t, err)
	require.Contains(t, paths[0].Why, "no shut line was found on the reference")
	file, _ = app.AsFiled(laid)
	require.Equal(t, i, file)
}

// A traced path that was turned round says so where sides or ends were told apart by what was typed.
func TestAPathTurnedRoundIsSaid(t *testing.T) {
	job, i, parts, placed := vanParts(t, true)
	path := job.Seams[0].Path
	from, to := path[0], path[len(path)-1]
	i.SeamLaying = []inspection.Laying{inspection.Traced}
	for _, c := range []struct {
		name   string
		points []geom.Vec
		radius [2]float64
		edges  [2]gapflush.EdgeKind
		master gapflush.Side
		says   string
	}{
		{"the right way", []geom.Vec{from, to}, [2]float64{1.5, 2}, [2]gapflush.EdgeKind{gapflush.Round, gapflush.Sharp}, gapflush.B, ""},
		{"nothing that tells", []geom.Vec{to, from}, [2]float64{1.5, 1.5}, [2]gapflush.EdgeKind{}, gapflush.A, ""},
		{"all", []geom.Vec{to, from}, [2]float64{1.5, 2}, [2]gapflush.EdgeKind{gapflush.Round, gapflush.Sharp}, gapflush.B, "What was typed (radius, edges, master)"},
		{"radius alone", []geom.Vec{to, from}, [2]float64{1.5, 2}, [2]gapflush.EdgeKind{}, gapflush.A, "What was typed (radius)"},
	} {
		s := gapflush.DefaultSeam("wing", c.points)
		s.Every, s.Radius, s.Edges, s.Master = 200, c.radius, c.edges, c.master
		i.Seams = []gapflush.Seam{s}
		laid, paths, err := lay(i, parts, placed)
		require.NoError(t, err, c.name)
		require.Equal(t, c.points[0] == to, paths[0].Turned, c.name)
		r, err := app.MeasureSeam(context.Background(), laid, laid.Seams[0], parts, placed, app.Settings{}, nil)
		require.NoError(t, err, c.name)
		said := strings.Join(r.Notes, "\n")
		if c.says == "" {
			require.NotContains(t, said, "turned round", c.name)
			continue
		}
		require.Contains(t, said, "The path was turned round", c.name)
		require.Contains(t, said, c.says, c.name)
	}
}

// One mistyped number in a long path is found by the point it is in and how far off that lies.
func TestAFarPointIsNamed(t *testing.T) {
	job, i, parts, placed := vanParts(t, true)
	s := gapflush.DefaultSeam("wing", slices.Clone(job.Seams[0].Path))
	s.Every = 50
	s.Path[6].Y -= 600 // the body is convex there: at least 599 mm from it, as its faces bend away
	r, err := app.MeasureSeam(context.Background(), i, s, parts, placed, app.Settings{}, nil)
	require.NoError(t, err)
	m := regexp.MustCompile(`Point 7 of its path, \(\d+\.\d, -5\d\d\.\d, \d+\.\d\), lies (\d+) mm from the reference: put it on the gap\.`).FindStringSubmatch(strings.Join(r.Notes, "\n"))
	require.NotNil(t, m, "%q", r.Notes)
	far, err := strconv.ParseFloat(m[1], 64)
	require.NoError(t, err)
	nearest := math.Inf(1) // by the vertices, which no face is nearer than by half its longest side
	for _, v := range parts.Mirrored.Vertices {
		nearest = min(nearest, v.Dist(s.Path[6]))
	}
	require.InDelta(t, nearest, far, 10)
	require.Equal(t, 1, strings.Count(strings.Join(r.Notes, "\n"), "of its path"))

	// Far along the skin, where the mesh is near: the point is named by its distance from the line between its neighbours, and
	// behind it the seam is measured as it is without it.
	whole := gapflush.DefaultSeam("wing", slices.Clone(job.Seams[0].Path))
	whole.Every = 10
	for n, side := range map[int]string{6: "the line from point 6 to point 8", 0: "the line on which points 2 and 3 lie", len(whole.Path) - 1: "the line on which points"} {
		s := whole
		s.Path = slices.Clone(whole.Path)
		s.Path[n].X += 150
		r, err := app.MeasureSeam(context.Background(), i, s, parts, placed, app.Settings{}, nil)
		require.NoError(t, err)
		m := regexp.MustCompile(fmt.Sprintf(`Point %d of its path, \(\d+\.\d, -?\d+\.\d, \d+\.\d\), lies (\d+) mm aside of %s.*, and no seam is there: put it on the gap\.`, n+1, side)).FindStringSubmatch(strings.Join(r.Notes, "\n"))
		require.NotNil(t, m, "%d: %q", n+1, r.Notes)
		off, err := strconv.ParseFloat(m[1], 64)
		require.NoError(t, err)
		require.InDelta(t, 150, off, 15, "the gap is nearly square to x")
		require.Equal(t, 1, strings.Count(strings.Join(r.Notes, "\n"), "of its path"), "%q", r.Notes)
		off1, all := 0, 0
		for k := range r.Stations {
			if r.Stations[k].State != gapflush.OffPath {
				all++
			} else if strings.Contains(r.Stations[k].Why, "turned back") {
				off1++
			}
		}
		require.Zero(t, off1, "no station is told that the path has turned back")
		require.Greater(t, all, 60, "point %d", n+1)
	}

	for k := range s.Path {
		s.Path[k].X += 5000
	}
	r, err = app.MeasureSeam(context.Background(), i, s, parts, placed, app.Settings{}, nil)
	require.NoError(t, err)
	require.Contains(t, strings.Join(r.Notes, "\n"), "points of its path lie far from the reference, the first")
}
