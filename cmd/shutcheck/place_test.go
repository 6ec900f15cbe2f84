package main

import (
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
)

// fineVan is a demo job fine enough that its hems' noses are sampled, made once.
var fineVan = sync.OnceValues(func() (*bodywork.Job, error) {
	return bodywork.Van(context.Background(), bodywork.Options{Size: 120_000, Seed: 7}, nil)
})

// placeJob writes the job's meshes and an inspection that only places.
func placeJob(t *testing.T, j *bodywork.Job, place string) (file string) {
	t.Helper()
	dir := t.TempDir()
	stl(t, filepath.Join(dir, "scan.stl"), j.Scan)
	stl(t, filepath.Join(dir, "reference.stl"), j.Reference)
	file = filepath.Join(dir, "job.toml")
	require.NoError(t, os.WriteFile(file, []byte(jobHead+place+"[surface]\nviews = []\n"), 0o600))
	return file
}

// drawn returns the corner of the drawing's triangles that lies nearest to (x, z)
// and looks along n; it lies on the drawing's formula.
func drawn(j *bodywork.Job, x, z float64, n geom.Vec) geom.Vec {
	normals := j.Reference.VertexNormals()
	best, near := geom.Vec{}, math.Inf(1)
	for i, p := range j.Reference.Vertices {
		if d := math.Hypot(p.X-x, p.Z-z); normals[i].Dot(n.Unit()) > 0.99 && d < near {
			best, near = p, d
		}
	}
	return best
}

func vec(p geom.Vec) string { return fmt.Sprintf("[%v, %v, %v]", p.X, p.Y, p.Z) }

// doorDatums are six datums on door and quarter, which are as drawn: three on the
// skin, two on the door's front hem, one beside the character line.
func doorDatums(j *bodywork.Job) string {
	var rows []string
	for _, d := range []struct {
		x, z float64
		n    geom.Vec
	}{
		{900, 80, geom.Vec{Y: -1, Z: -0.15}}, {1000, 850, geom.Vec{Y: -1, Z: 0.2}}, {2200, 430, geom.Vec{Y: -1}},
		{752, 200, geom.Vec{X: -1, Y: -0.5}}, {777, 690, geom.Vec{X: -1, Y: -0.5}}, {1100, 578, geom.Vec{Y: -1, Z: 0.1}},
	} {
		rows = append(rows, fmt.Sprintf("  { point = %s, normal = %s },\n", vec(drawn(j, d.x, d.z, d.n)), vec(d.n)))
	}
	return "datums = [\n" + strings.Join(rows, "") + "]\n"
}

// targets returns n pairs of points whose scan points are off by up to 0.1 mm, as
// targets are; bad is the pair, from 0, whose scan point is off by a further 3 mm.
func targets(j *bodywork.Job, n, bad int) string {
	back := j.ReferenceFromScan.Inverse()
	var rows []string
	for k, at := range [][2]float64{{820, 60}, {1550, 120}, {2350, 80}, {860, 860}, {1500, 700}, {2300, 850}, {1200, 420}}[:n] {
		p := drawn(j, at[0], at[1], geom.Vec{Y: -1})
		if k%2 == 1 { // not all on the skin: a target on a stand
			p.Y -= 150
		}
		q := p.Add(geom.Vec{X: 0.1 * math.Sin(float64(3*k+1)), Y: 0.1 * math.Sin(float64(5*k+2)), Z: 0.1 * math.Sin(float64(7*k+3))})
		if k == bad {
			q.X += 3
		}
		rows = append(rows, fmt.Sprintf("  { scan = %s, reference = %s },\n", vec(back.Apply(q)), vec(p)))
	}
	return "pairs = [\n" + strings.Join(rows, "") + "]\n"
}

const twoRegions = "region = [ { centre = [1190, 20, 450], radius = 480 }, { centre = [2000, 30, 600], radius = 320 } ]\n"

// nudged is the truth moved by 1 mm along x, as a matrix.
func nudged(j *bodywork.Job) string {
	g := j.ReferenceFromScan
	return fmt.Sprintf("matrix = [%v, %v, %v, %v, %v, %v, %v, %v, %v, %v, %v, %v, 0, 0, 0, 1]\n",
		g.R[0][0], g.R[0][1], g.R[0][2], g.T.X+1, g.R[1][0], g.R[1][1], g.R[1][2], g.T.Y, g.R[2][0], g.R[2][1], g.R[2][2], g.T.Z)
}

// placedResult is what results.json says about the placement.
type placedResult struct {
	Placement struct {
		Method      string
		Matrix      []float64
		Uncertainty map[string]*float64 `json:"standard_uncertainty"`
		Covariance  [][]*float64        `json:"covariance_mm_deg"`
		NoSigma     string              `json:"no_uncertainty_because"`
		Centre      [3]float64          `json:"centre_mm"`
		Notes       []string
		Datums      *struct {
			Met []struct {
				Left float64 `json:"left_mm"`
				U    float64 `json:"u_mm"`
			}
		}
		Pairs *struct {
			Wrong *int `json:"does_not_fit"`
			Left  []struct {
				Out *float64 `json:"left_out_mm"`
			}
		}
		Regions []struct{ Points int }
	}
	Placements []struct {
		Method   string
		Chosen   bool
		Greatest *float64 `json:"greatest_displacement_mm"`
		Why      string
	}
	Mirror *struct {
		How         string
		Point       [3]float64 `json:"point_mm"`
		Normal      [3]float64
		Offset      *float64 `json:"u_offset_mm"`
		HalvesShare *float64 `json:"halves_share"`
	}
	Notes []string
}

// run places a job and returns what was written, what was said, and the folder.
func runPlace(t *testing.T, file string) (r placedResult, said, out string) {
	t.Helper()
	out = filepath.Join(filepath.Dir(file), "results")
	got := shutcheck("inspect", file, "--out", out)
	require.Zero(t, got.status, got.errors)
	data, err := os.ReadFile(filepath.Join(out, "results.json"))
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(data, &r))
	return r, strings.Join(strings.Fields(got.out), " "), out
}

// motion returns the placement.
func (r *placedResult) motion() (g geom.Rigid) {
	m := r.Placement.Matrix
	for row := range 3 {
		for col := range 3 {
			g.R[row][col] = m[4*row+col]
		}
	}
	g.T = geom.Vec{X: m[3], Y: m[7], Z: m[11]}
	return g
}

// nearTruth checks that a best fit is right, which is what a mirrored reference can
// spoil: within a tenth of a millimetre over the part, as without a mirror.
func nearTruth(t *testing.T, r placedResult, j *bodywork.Job) {
	t.Helper()
	require.Less(t, geom.MaxDisplacement(r.motion().After(j.ReferenceFromScan.Inverse()), geom.Identity(), j.Reference.Bounds()), 0.1)
}

// withinU checks a placement against the generator's truth: the error of each of the
// six motions, about the centre they are stated for, against its standard
// uncertainty. Six motions and several methods: three of them are allowed for each.
func withinU(t *testing.T, r placedResult, truth geom.Rigid) {
	t.Helper()
	d := r.motion().After(truth.Inverse())
	c := geom.Vec{X: r.Placement.Centre[0], Y: r.Placement.Centre[1], Z: r.Placement.Centre[2]}
	shift := d.Apply(c).Sub(c)
	turn := geom.Vec{X: d.R[2][1] - d.R[1][2], Y: d.R[0][2] - d.R[2][0], Z: d.R[1][0] - d.R[0][1]}.Scale(90 / math.Pi)
	for k, name := range []string{"u_tx_mm", "u_ty_mm", "u_tz_mm", "u_rx_deg", "u_ry_deg", "u_rz_deg"} {
		u := r.Placement.Uncertainty[name]
		require.NotNil(t, u, name)
		require.Positive(t, *u, name)
		err := shift.At(k % 3)
		if k >= 3 {
			err = turn.At(k % 3)
		}
		require.Less(t, math.Abs(err), 3**u, name)
		// Shifts are written with six decimals: squared, they may be off by a millionth over themselves.
		written := 1e-3
		if k < 3 {
			written += 1e-6 / *u
		}
		require.InEpsilon(t, *u**u, *r.Placement.Covariance[k][k], written, name)
	}
}

func TestPlaceByDatums(t *testing.T) {
	j, err := fineVan()
	require.NoError(t, err)
	file := placeJob(t, j, "[place]\nmethod = \"datums\"\n"+doorDatums(j)+targets(j, 7, -1)+twoRegions+nudged(j))
	r, said, out := runPlace(t, file)
	require.Equal(t, "datums", r.Placement.Method)
	withinU(t, r, j.ReferenceFromScan)
	require.Len(t, r.Placement.Datums.Met, 6)
	for _, m := range r.Placement.Datums.Met {
		require.InDelta(t, 0, m.Left, 0.001)
	}
	require.Contains(t, said, "The scan meets the six datums.")
	require.Contains(t, said, "By best fit on the whole part the scan would lie up to 0.")
	require.Contains(t, said, "A best fit spreads what is wrong over the whole part")

	// Every other method stands beside it; the matrix is the truth moved by 1 mm.
	var names []string
	for _, p := range r.Placements {
		names = append(names, p.Method)
		require.Empty(t, p.Why)
		require.Equal(t, p.Method == "datums", p.Chosen)
	}
	require.Equal(t, []string{"datums", "best-fit", "best-fit on regions", "pairs", "given"}, names)
	require.InDelta(t, 0, *r.Placements[0].Greatest, 1e-12)
	require.InDelta(t, 1, *r.Placements[4].Greatest, 0.5)
	f, err := os.Open(filepath.Join(out, "placements.csv"))
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, 6)
	require.Equal(t, []string{"method", "chosen", "greatest_displacement_mm", "translation_mm", "rotation_deg", "rms_mm"}, rows[0][:6])
	for k, row := range rows[1:] {
		require.Equal(t, fmt.Sprintf("%.6f", *r.Placements[k].Greatest), row[2])
		require.NotEmpty(t, row[5])
	}
}

func TestPlaceByPairs(t *testing.T) {
	j, err := fineVan()
	require.NoError(t, err)
	file := placeJob(t, j, "[place]\nmethod = \"pairs\"\n"+targets(j, 7, -1))
	r, said, _ := runPlace(t, file)
	withinU(t, r, j.ReferenceFromScan)
	require.Nil(t, r.Placement.Pairs.Wrong)
	require.Contains(t, said, "The scan is placed by 7 pairs of points")

	file = placeJob(t, j, "[place]\nmethod = \"pairs\"\n"+targets(j, 7, 2))
	r, said, _ = runPlace(t, file)
	require.Equal(t, 3, *r.Placement.Pairs.Wrong)
	require.InDelta(t, 3, *r.Placement.Pairs.Left[2].Out, 0.4)
	require.Contains(t, said, "Pair 3 does not fit the others: left out, it is")
	require.Contains(t, said, "Next: Check pair 3")

	file = placeJob(t, j, "[place]\nmethod = \"pairs\"\n"+targets(j, 3, -1))
	r, said, out := runPlace(t, file)
	require.Contains(t, r.Placement.NoSigma, "3 pairs leave too little over")
	require.Nil(t, r.Placement.Uncertainty["u_tx_mm"])
	require.Contains(t, said, "How sure the placement is has no value")
	row, err := os.ReadFile(filepath.Join(out, "placement.csv"))
	require.NoError(t, err)
	require.Contains(t, string(row), ",,,,,,1\r\n", "no uncertainty is an empty cell")
}

// Pairs need no reference: they lead into the frame of their second points.
func TestPairsNeedNoReference(t *testing.T) {
	j, err := fineVan()
	require.NoError(t, err)
	file := placeJob(t, j, "")
	require.NoError(t, os.WriteFile(file, []byte("[scan]\nfile = \"scan.stl\"\nunits = \"mm\"\n[place]\nmethod = \"pairs\"\n"+targets(j, 7, -1)), 0o600))
	r, said, _ := runPlace(t, file)
	withinU(t, r, j.ReferenceFromScan)
	require.Contains(t, said, "the frame that the pairs lead to")
}

func TestPlaceOnRegions(t *testing.T) {
	j, err := fineVan()
	require.NoError(t, err)
	file := placeJob(t, j, "[place]\n"+twoRegions)
	r, said, _ := runPlace(t, file)
	require.Equal(t, "best-fit", r.Placement.Method)
	withinU(t, r, j.ReferenceFromScan)
	require.Len(t, r.Placement.Regions, 2)
	require.Contains(t, said, "scan points lie in the regions")
	require.Equal(t, "best-fit on regions", r.Placements[0].Method)
	require.Equal(t, "best-fit", r.Placements[1].Method)
}

// The demo's side has no plane of symmetry, and its mirror image is not its other
// hand: what was asked for is said with its figures.
func TestMirrors(t *testing.T) {
	j, err := van()
	require.NoError(t, err)
	file := placeJob(t, j, "")
	text := strings.Replace(jobHead, "[reference]\n", "[reference]\nmirror = \"find\"\n", 1)
	require.NoError(t, os.WriteFile(file, []byte(text), 0o600))
	got := shutcheck("inspect", file, "--out", filepath.Join(filepath.Dir(file), "r"))
	require.Equal(t, 65, got.status)
	require.Contains(t, got.errors, "the reference is not symmetric: in the best plane")

	// Mirrored by mistake.
	text = strings.Replace(jobHead, "[reference]\n", "[reference]\nmirror_plane = { point = [0, -900, 0], normal = [0, 2, 0] }\n", 1)
	require.NoError(t, os.WriteFile(file, []byte(text), 0o600))
	got = shutcheck("inspect", file, "--out", filepath.Join(filepath.Dir(file), "r"))
	said := strings.Join(strings.Fields(got.out+got.errors), " ")
	require.Contains(t, said, "far better without mirroring: ")
	require.Contains(t, said, "take mirror out of [reference]")

	// The reference is the other side in its place: mirrored back it is this side, and the truth is the demo's.
	stl(t, filepath.Join(filepath.Dir(file), "reference.stl"), j.Reference.Mirrored(1))
	text = strings.Replace(jobHead, "[reference]\n", "[reference]\nmirror_plane = { point = [5, 0, 3], normal = [0, 2, 0] }\n", 1)
	require.NoError(t, os.WriteFile(file, []byte(text), 0o600))
	r, said, _ := runPlace(t, file)
	nearTruth(t, r, j)
	require.Equal(t, "plane", r.Mirror.How)
	require.Equal(t, [3]float64{0, 1, 0}, r.Mirror.Normal)
	require.Nil(t, r.Mirror.Offset, "a plane that is given is taken at its word")
	require.Contains(t, said, "plane passes beside the reference")
	require.NotContains(t, said, "far better")

	// Not mirrored, it is said that it should be.
	require.NoError(t, os.WriteFile(file, []byte(jobHead), 0o600))
	got = shutcheck("inspect", file, "--replace", "--out", filepath.Join(filepath.Dir(file), "r"))
	require.Contains(t, strings.Join(strings.Fields(got.out+got.errors), " "), "The scan fits the reference far better mirrored: ")
}

// A body with both sides is its own other side: the plane is found and the scan of
// one side is compared with the other. Truth: the plane that the second side was made in.
func TestMirrorPlaneIsFound(t *testing.T) {
	j, err := van()
	require.NoError(t, err)
	const middle = 800.0 // y of the plane of symmetry
	whole := bodywork.Together(j.Reference, bodywork.Mapped(j.Reference.Mirrored(1), func(p geom.Vec) geom.Vec {
		p.Y += 2 * middle
		return p
	}))
	file := placeJob(t, j, "")
	stl(t, filepath.Join(filepath.Dir(file), "reference.stl"), whole)
	text := strings.Replace(jobHead, "[reference]\n", "[reference]\nmirror = \"find\"\n", 1)
	require.NoError(t, os.WriteFile(file, []byte(text), 0o600))
	r, said, _ := runPlace(t, file)
	require.Equal(t, "find", r.Mirror.How)
	n := geom.Vec{X: r.Mirror.Normal[0], Y: r.Mirror.Normal[1], Z: r.Mirror.Normal[2]}
	p := geom.Vec{X: r.Mirror.Point[0], Y: r.Mirror.Point[1], Z: r.Mirror.Point[2]}
	require.InDelta(t, 1, math.Abs(n.Y), 1e-9)
	require.InDelta(t, 0, p.Sub(geom.Vec{Y: middle}).Dot(n), 3**r.Mirror.Offset+1e-4) // the file holds single precision
	require.Greater(t, *r.Mirror.HalvesShare, 0.99)
	require.Contains(t, said, "eference was mirrored in its plane of symmetry, which was found through")
	require.Contains(t, said, "agree within 1 mm over 100 % of the area")
	nearTruth(t, r, j)
}

// A body may be compared with its own mirror image: scan and reference are then one
// file. The wing of one side is wrong, so that the halves agree but for it, and nothing is said of mirroring.
func TestABodyBesideItsOwnImage(t *testing.T) {
	j, err := van()
	require.NoError(t, err)
	const middle = 800.0
	drawn := bodywork.Mapped(j.Reference.Mirrored(1), func(p geom.Vec) geom.Vec {
		p.Y += 2 * middle
		return p
	})
	dented := bodywork.Mapped(j.Reference, func(p geom.Vec) geom.Vec {
		u, v := (p.X-1200)/250, (p.Z-450)/250
		if q := 1 - float64(u*u) - float64(v*v); q > 0 {
			p.Y += 8 * q * q
		}
		return p
	})
	file := placeJob(t, j, "")
	stl(t, filepath.Join(filepath.Dir(file), "scan.stl"), bodywork.Together(dented, drawn))
	text := strings.Replace(strings.Replace(jobHead, "[reference]\n", "[reference]\nmirror = \"find\"\n", 1), "reference.stl", "scan.stl", 1)
	require.NoError(t, os.WriteFile(file, []byte(text), 0o600))
	r, said, _ := runPlace(t, file)
	require.NotContains(t, said, "far better")
	require.Less(t, geom.MaxDisplacement(r.motion(), geom.Identity(), j.Reference.Bounds()), 0.1, "it lies on its image without moving")
	require.InDelta(t, middle, r.Mirror.Point[1], 0.05)
}

func TestPlacementsThatCannotBe(t *testing.T) {
	j, err := fineVan()
	require.NoError(t, err)
	datums := doorDatums(j)
	lines := strings.Split(datums, "\n")
	for name, c := range map[string]struct{ place, says string }{
		"five datums":      {"method = \"datums\"\n" + strings.Join(append(append([]string{}, lines[:3]...), lines[4:]...), "\n"), "must be six datums"},
		"datum twice":      {"method = \"datums\"\n" + strings.Join(append(append([]string{}, lines[:2]...), append([]string{lines[1]}, lines[3:]...)...), "\n"), "datums 1 and 2 are the same twice: 0 mm apart"},
		"datum in a hole":  {"method = \"datums\"\n" + strings.Join(append([]string{lines[0], fmt.Sprintf("  { point = %s, normal = [0, -1, 0] },", vec(drawn(j, 1100, 300, geom.Vec{Y: -1})))}, lines[2:]...), "\n"), "datum 1: no scan surface lies within 25 mm"},
		"two pairs":        {"method = \"pairs\"\n" + targets(j, 2, -1), "three pairs or more"},
		"mirrored pairs":   {"method = \"pairs\"\npairs = [ {scan=[0,0,0],reference=[0,0,0]}, {scan=[900,0,0],reference=[900,0,0]}, {scan=[0,800,0],reference=[0,-800,0]}, {scan=[0,0,700],reference=[0,0,700]} ]\n", "the pairs fit a mirror image of the scan"},
		"pairs on a line":  {"method = \"pairs\"\npairs = [ {scan=[0,0,0],reference=[0,0,0]}, {scan=[900,0,0],reference=[900,0,0]}, {scan=[300,0,0],reference=[300,0,0]} ]\n", "lie on one line"},
		"region elsewhere": {"region = [ { centre = [1190, 900, 450], radius = 80 } ]\n", "farther than its radius of 80 mm"},
		"region too small": {"region = [ { centre = [1190, 5, 450], radius = 100 } ]\n", "of the 6 motions. Not held: "},
	} {
		t.Run(name, func(t *testing.T) {
			file := placeJob(t, j, "[place]\n"+c.place)
			got := shutcheck("inspect", file, "--out", filepath.Join(filepath.Dir(file), "r"))
			require.Equal(t, 65, got.status, got.out)
			require.Contains(t, got.errors, c.says)
			require.LessOrEqual(t, strings.Count(strings.TrimSpace(got.errors), "\n"), 1)
		})
	}
	// Beside a method that works, one that does not is a row without numbers and its reason.
	file := placeJob(t, j, "[place]\nregion = [ { centre = [1190, 5, 450], radius = 100 } ]\nmethod = \"pairs\"\n"+targets(j, 5, -1))
	r, said, _ := runPlace(t, file)
	require.Equal(t, "best-fit on regions", r.Placements[2].Method)
	require.Nil(t, r.Placements[2].Greatest)
	require.Contains(t, r.Placements[2].Why, "Not held: ")
	require.Contains(t, said, "By best fit on regions there is no placement: ")
}
