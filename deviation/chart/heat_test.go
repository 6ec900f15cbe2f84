package chart

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/gapflush"
	"shutline/deviation/shade"
	"shutline/deviation/verdict"
	"shutline/mesh"
	"shutline/mesh/geom"
)

// skin is a bulging side panel of 1200 by 700 mm seen from the left, with a
// swage line, and its made-up deviation: a bump, a dent and a patch without numbers.
func skin(n int) (m *mesh.Mesh, mm []float64, known []bool) {
	m = &mesh.Mesh{}
	for i := 0; i <= n; i++ {
		for j := 0; j <= n; j++ {
			x, z := 1200*float64(j)/float64(n), 700*float64(i)/float64(n)
			y := -60*math.Cos((z-350)/500) - 20*math.Sin(x/700) + 6*math.Tanh((z-420)/12)
			m.Vertices = append(m.Vertices, geom.Vec{X: x, Y: y, Z: z})
			bump := func(x0, z0, r float64) float64 { return math.Exp(-((x-x0)*(x-x0) + (z-z0)*(z-z0)) / (r * r)) }
			mm = append(mm, 0.25*math.Sin(x/160)*math.Cos(z/130)+2.1*bump(330, 250, 90)-1.7*bump(820, 520, 110))
			known = append(known, math.Hypot(x-980, z-150) > 80)
		}
	}
	for i := range n {
		for j := range n {
			a := uint32(i*(n+1) + j)
			b, c, d := a+1, a+uint32(n)+1, a+uint32(n)+2
			m.Faces = append(m.Faces, [3]uint32{a, b, d}, [3]uint32{a, d, c})
		}
	}
	return m, mm, known
}

func TestHeatTextsStandApart(t *testing.T) {
	m, mm, known := skin(240)
	sc := shade.NewScale(verdict.Tolerance{Lo: -0.5, Hi: 0.5})
	model := shade.NewModel(m, nil)
	model.Paint(mm, known, sc)
	seam := seamOf(27)
	for i := range seam.Stations {
		st := &seam.Stations[i]
		st.P, st.U = m.Vertices[(i+2)*240/30*241+60], geom.Vec{Y: -1}
	}
	info := HeatInfo{
		Title: "Left wing, second trial fit", View: "left", Seams: []*gapflush.Result{seam},
		Lines: []Line{
			{"measured", "57 312"}, {"beyond reach", "0"}, {"facing away", "214"}, {"off edge", "555"},
			{"mean", "+0.04 mm"}, {"RMS", "0.41 mm"}, {"2.5 % to 97.5 %", "−1.02 to +1.31 mm"}, {"in tolerance", "91.3 %"},
		},
	}
	for _, c := range []struct {
		name, view string
		w, h       int
		scale      float64
		theme      Theme
		around     shade.Theme
	}{
		{"left", "left", 1600, 900, 1.25, Light(), shade.LightTheme()},
		{"three-quarter-dark", "three-quarter", 1280, 800, 1, Dark(), shade.DarkTheme()},
	} {
		t.Run(c.name, func(t *testing.T) {
			cam, ok := HeatCamera(c.view, model.Box(), c.w, c.h, c.scale)
			require.True(t, ok)
			pic := shade.RenderStill([]*shade.Model{model}, cam, c.around, c.w, c.h, 0)
			s := drawHeat(pic, cam, sc, info, c.theme, c.scale)
			keep(t, "heat-"+c.name, s.img)
			noOverlap(t, s)
		})
	}
}

// Two seams beside one another, one of them in short stretches, and call-outs between them: every text stands apart, no
// station is covered, and each stretch says where it begins and ends.
func TestLabelsOfStretchesStandApart(t *testing.T) {
	m, mm, known := skin(240)
	sc := shade.NewScale(verdict.Tolerance{Lo: -0.5, Hi: 0.5})
	model := shade.NewModel(m, nil)
	model.Paint(mm, known, sc)
	at := func(row, col int) geom.Vec { return m.Vertices[row*241+col] }
	var seams []*gapflush.Result
	all := 0
	for k, n := range []int{4, 3, 5, 4, 6, 5} {
		r := seamOf(n)
		r.Seam.Whole = "wing to door"
		r.Seam.Name = "wing to door, " + count(100*k) + " to " + count(100*(k+1)) + " mm"
		for i := range r.Stations {
			st := &r.Stations[i]
			all++
			st.Index, st.P, st.U, st.A = all, at(20+7*all, 80), geom.Vec{Y: -1}, geom.Vec{X: 1}
		}
		seams = append(seams, r)
	}
	r := seamOf(27)
	for i := range r.Stations {
		r.Stations[i].P, r.Stations[i].U, r.Stations[i].A = at(20+7*i, 100), geom.Vec{Y: -1}, geom.Vec{X: 1}
	}
	seams = append(seams, r)
	for name, c := range map[string]struct {
		w, h  int
		scale float64
	}{"large": {2000, 1250, 2}, "small": {1000, 640, 1}} {
		for _, view := range []string{"left", "three-quarter"} {
			cam, ok := HeatCamera(view, model.Box(), c.w, c.h, c.scale)
			require.True(t, ok)
			pic := shade.RenderStill([]*shade.Model{model}, cam, shade.LightTheme(), c.w, c.h, 0)
			info := HeatInfo{Title: "t", View: view, Seams: seams, CallOuts: []CallOut{{At: at(60, 82), Label: "1", Text: "+2.10 mm"}, {At: at(150, 98), Label: "2", Text: "−1.70 mm"}}}
			s := drawHeat(pic, cam, sc, info, Light(), c.scale)
			keep(t, "stretches-"+name+"-"+view, s.img)
			noOverlap(t, s)
			said := map[string]int{}
			for _, text := range s.texts {
				said[text.text]++
				for _, r := range seams {
					for i := range r.Stations {
						x, y, _ := cam.Project(r.Stations[i].P, c.w, c.h)
						require.False(t, x > text.x0 && x < text.x1 && y > text.y0 && y < text.y1, "%s, %s: %q covers a station", name, view, text.text)
					}
				}
			}
			require.Equal(t, 2, said["A"], "one for each whole seam")
			require.Equal(t, 1, said["wing to door, 0 to 100 mm"])
			named := 0
			for k := range 6 {
				named += said[count(100*k)+" to "+count(100*(k+1))+" mm"]
			}
			if name == "large" {
				require.Equal(t, 5, named, "%s: %v", view, said)
			}
		}
	}
}

func TestHistogramSharesAreTheAreas(t *testing.T) {
	tol := verdict.Tolerance{Lo: -0.5, Hi: 0.5}
	axis := HistogramLayout(600, 170, 1, tol, shade.NewScale(tol))
	sh := sharesOf(axis, 21, []float64{0, 0.5, 0.51, -9, 9, math.NaN()}, []float64{4, 1, 1, 2, 2, 50}, tol)
	require.InDelta(t, 0.5, sh.inside, 1e-12) // both limits belong to the tolerance
	require.InDelta(t, 0.2, sh.below, 1e-12)
	require.InDelta(t, 0.2, sh.above, 1e-12)
	require.InDelta(t, 0.4, sh.bin[10], 1e-12) // 0 is the middle of the middle bar
	require.InDelta(t, 0.3, axis.Value(axis.X(0.3)), 1e-12)
}

func TestHistogramTextsStandApart(t *testing.T) {
	_, mm, _ := skin(240)
	tol := verdict.Tolerance{Lo: -0.5, Hi: 0.5}
	for _, c := range []struct {
		name  string
		w, h  int
		scale float64
		theme Theme
	}{{"strip", 1100, 170, 1, Light()}, {"dark", 1100, 170, 1, Dark()}, {"picture", 1600, 900, 2, Light()}, {"narrow", 360, 150, 1, Light()}} {
		t.Run(c.name, func(t *testing.T) {
			s := drawHistogram(c.w, c.h, c.theme, c.scale, mm, nil, tol, shade.NewScale(tol))
			keep(t, "histogram-"+c.name, s.img)
			noOverlap(t, s)
		})
	}
	keep(t, "ruler-upright", Ruler(120, 260, Light(), 1, shade.NewScale(tol)))
	keep(t, "ruler-lying", Ruler(360, 40, Dark(), 1, shade.NewScale(tol)))
}
