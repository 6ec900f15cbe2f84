package main

import (
	"context"
	"flag"
	"fmt"
	"image"
	"image/png"
	"math"
	"os"
	"os/signal"
	"path/filepath"
	"slices"

	"gonum.org/v1/gonum/mat"

	"shutline/deviation"
	"shutline/deviation/align"
	"shutline/deviation/chart"
	"shutline/deviation/shade"
	"shutline/deviation/verdict"
	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
	"shutline/mesh/surface"
)

// The damaged part: a corner that bends away, and beside it a dent. Together they take
// up three tenths of the area, the most that a placement must withstand.
const (
	cornerFrom, cornerDepth        = 1860.0, 6.0 // mm along X, mm at the far end
	dentX, dentZ, dentRadius, dent = 700.0, 480.0, 170.0, 4.0
	dentedNoise                    = 0.03 // mm
	dentedTriangles                = 200000
)

// dentedMain places a damaged part by least squares and by the best fit, prints how far each ends
// from the true place and what it says of the good and of the bad metal, and draws what is left.
func dentedMain(args []string) {
	flags := flag.NewFlagSet("goals dented", flag.ExitOnError)
	out := flags.String("out", "", "folder for the pictures; none are drawn without it")
	seed := flags.Uint64("seed", 1, "of the scan and its noise")
	threads := flags.Int("threads", 0, "threads, 0: all processors")
	_ = flags.Parse(args) // ends the program itself
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	missed, err := runDented(ctx, *out, *seed, *threads)
	end(missed, err)
}

// dentedPart is the smooth body side with its damage, and which of its points still are good.
type dentedPart struct {
	ref     *surface.Surface
	scan    *mesh.Mesh
	damaged []bool
}

func newDentedPart(ctx context.Context, seed uint64, threads int) (*dentedPart, error) {
	ref, err := surface.New(ctx, bodywork.SmoothSide(bodywork.Sampling{Triangles: dentedTriangles}), threads, nil)
	if err != nil {
		return nil, err
	}
	scan := bodywork.SmoothSide(bodywork.Sampling{Triangles: dentedTriangles, Jitter: true, Seed: seed})
	d := &dentedPart{ref: ref, scan: scan, damaged: make([]bool, len(scan.Vertices))}
	end := ref.Mesh.Bounds().Hi.X
	for i, p := range scan.Vertices {
		aside := math.Hypot(p.X-dentX, p.Z-dentZ) / dentRadius
		switch {
		case p.X > cornerFrom:
			scan.Vertices[i].Y += cornerDepth * (p.X - cornerFrom) / (end - cornerFrom)
		case aside < 1:
			scan.Vertices[i].Y -= dent * (1 - aside*aside) * (1 - aside*aside)
		default:
			continue
		}
		d.damaged[i] = true
	}
	d.scan = bodywork.WithNoise(scan, dentedNoise, seed)
	return d, nil
}

// leastSquares minimises the plain sum of squared distances to the reference's tangent planes (Chen and
// Medioni 1992) over all points within reach, from the true place, where it has the best of starts.
func (d *dentedPart) leastSquares(ctx context.Context) (geom.Rigid, error) {
	pose := geom.Identity()
	box := d.ref.Mesh.Bounds()
	middle, half := box.Center(), box.Diagonal()/2
	for range 40 {
		if err := ctx.Err(); err != nil {
			return pose, err
		}
		normal, right := mat.NewSymDense(6, nil), mat.NewVecDense(6, nil)
		finder := d.ref.NewFinder()
		for _, v := range d.scan.Vertices {
			p := pose.Apply(v)
			hit, ok := finder.Closest(p, reach)
			if !ok || hit.Border {
				continue
			}
			lever := p.Sub(middle).Scale(1 / half).Cross(hit.Normal)
			row := mat.NewVecDense(6, []float64{hit.Normal.X, hit.Normal.Y, hit.Normal.Z, lever.X, lever.Y, lever.Z})
			normal.SymRankOne(normal, 1, row)
			right.AddScaledVec(right, -p.Sub(hit.Point).Dot(hit.Normal), row)
		}
		var step mat.VecDense
		if err := step.SolveVec(normal, right); err != nil {
			return pose, fmt.Errorf("least squares: %w", err)
		}
		turn := geom.Vec{X: step.AtVec(3), Y: step.AtVec(4), Z: step.AtVec(5)}.Scale(1 / half)
		motion := geom.Rotation(turn, turn.Norm())
		motion.T = middle.Add(geom.Vec{X: step.AtVec(0), Y: step.AtVec(1), Z: step.AtVec(2)}).Sub(motion.ApplyDir(middle))
		pose = motion.After(pose)
		if mat.Norm(&step, 2) < 1e-6 {
			break
		}
	}
	return pose, nil
}

func runDented(ctx context.Context, out string, seed uint64, threads int) (missed bool, err error) {
	d, err := newDentedPart(ctx, seed, threads)
	if err != nil {
		return true, err
	}
	bad := 0
	for _, b := range d.damaged {
		if b {
			bad++
		}
	}
	fmt.Printf("smooth body side, %d points, %.0f %% of them damaged (a corner bent out by up to %.0f mm, a dent of %.0f mm), noise %.2f mm, seed %d\n",
		len(d.damaged), 100*float64(bad)/float64(len(d.damaged)), cornerDepth, dent, dentedNoise, seed)
	squares, err := d.leastSquares(ctx)
	if err != nil {
		return true, err
	}
	// The best fit is given the scan in another pose; it needs no start.
	pose := geom.Rotation(geom.Vec{X: 1, Y: 2, Z: 3}, 2)
	best, err := align.BestFit(ctx, d.scan.Moved(pose), d.ref, align.Settings{Threads: threads}, nil)
	if err != nil {
		return true, err
	}
	fmt.Printf("%-14s %28s %26s %26s\n", "placement", "farthest from true place, mm", "RMS on good metal, mm", "good metal beyond 0.5 mm")
	for _, way := range []struct {
		name, title string
		motion      geom.Rigid
	}{
		{"least-squares", "Placed by least squares", squares},
		{"best-fit", "Placed by the best fit", best.ReferenceFromScan.After(pose)},
	} {
		off := geom.MaxDisplacement(way.motion, geom.Identity(), d.ref.Mesh.Bounds())
		placed := d.scan.Moved(way.motion)
		field, err := deviation.Measure(ctx, placed, d.ref, deviation.Settings{Reach: reach, Threads: threads}, nil)
		if err != nil {
			return true, err
		}
		rms, beyond := d.good(field)
		fmt.Printf("%-14s %28.3f %26.3f %24.1f %%\n", way.name, off, rms, 100*beyond)
		// A fit that follows the good metal ends within a millimetre of the true place.
		missed = missed || way.name == "best-fit" && off > 1
		if out != "" {
			if err := d.draw(ctx, out, way.name, way.title, way.motion, placed, field, threads); err != nil {
				return true, err
			}
		}
	}
	return missed, nil
}

// good returns the RMS of the deviations of undamaged metal, mm, and the share of it that
// stands more than half a millimetre off.
func (d *dentedPart) good(field *deviation.Field) (rms, beyond float64) {
	sum, n, far := 0.0, 0, 0
	for i, state := range field.State {
		if state != deviation.Measured || d.damaged[i] {
			continue
		}
		n++
		sum += field.Deviation[i] * field.Deviation[i]
		if math.Abs(field.Deviation[i]) > 0.5 {
			far++
		}
	}
	n = max(n, 1)
	return math.Sqrt(sum / float64(n)), float64(far) / float64(n)
}

// draw writes the map of what is left, and its distribution.
func (d *dentedPart) draw(ctx context.Context, folder, name, title string, motion geom.Rigid, placed *mesh.Mesh, field *deviation.Field, threads int) error {
	if err := os.MkdirAll(folder, 0o777); err != nil {
		return err
	}
	const w, h, scale = 1600, 1000, 2
	known := make([]bool, len(field.State))
	var values []float64
	for i, state := range field.State {
		if known[i] = state == deviation.Measured; known[i] {
			values = append(values, field.Deviation[i])
		}
	}
	tolerance := verdict.Tolerance{Lo: -0.5, Hi: 0.5}
	colours := shade.NewScale(tolerance)
	model := shade.NewModel(placed, placed.VertexNormals())
	model.Paint(field.Deviation, known, colours)
	cam, _ := chart.HeatCamera("left", placed.Bounds(), w, h, scale)
	pic := shade.RenderStill([]*shade.Model{model}, cam, shade.LightTheme(), w, h, threads)
	rms, beyond := d.good(field)
	info := chart.HeatInfo{Title: title, View: "left", Lines: []chart.Line{
		{Label: "good metal, RMS", Value: fmt.Sprintf("%.2f mm", rms)},
		{Label: "good metal out", Value: fmt.Sprintf("%.1f %%", 100*beyond)},
	}, Lowest: verdict.Value{V: slices.Min(values), OK: true}, Highest: verdict.Value{V: slices.Max(values), OK: true}}
	if err := writePNG(filepath.Join(folder, name+"-map.png"), chart.Heat(pic, cam, colours, info, chart.Light(), scale)); err != nil {
		return err
	}
	told, err := align.Describe(ctx, "given", motion, d.scan, d.ref, align.Settings{Threads: threads})
	if err != nil {
		return err
	}
	return writePNG(filepath.Join(folder, name+"-residuals.png"), chart.Residuals(w, h/3, chart.Light(), scale, told.Residuals))
}

func writePNG(path string, img image.Image) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	if err := png.Encode(f, img); err != nil {
		f.Close()
		return err
	}
	return f.Close()
}
