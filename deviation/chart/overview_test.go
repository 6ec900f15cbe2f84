package chart

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/gapflush"
	"shutline/deviation/shade"
	"shutline/mesh/geom"
)

// The letters stand on the sides that the stations' directions say, and their texts apart from all others.
func TestSeamsAreDrawnWithTheirSides(t *testing.T) {
	m, _, _ := skin(240)
	model := shade.NewModel(m, nil)
	for name, toB := range map[string]float64{"as-walked": 1, "turned": -1} {
		seam := seamOf(27)
		for i := range seam.Stations {
			st := &seam.Stations[i]
			st.P, st.U, st.A = m.Vertices[(i+2)*240/30*241+60], geom.Vec{Y: -1}, geom.Vec{X: toB}
		}
		seam.Verdict = 0
		cam, ok := HeatCamera("left", model.Box(), 1600, 900, 1.25)
		require.True(t, ok)
		pic := shade.RenderStill([]*shade.Model{model}, cam, shade.LightTheme(), 1600, 900, 0)
		img := Seams(pic, cam, SeamsInfo{Title: "scan.stl", View: "left", Seams: []*gapflush.Result{seam}, OwnFrame: true}, Light(), 1.25)
		keep(t, "seams-"+name, img)
		// Rings in the colours of the sides, left of the panel: the view is from the left, so that +x is at its right.
		th := Light()
		x := map[[3]uint8][]int{}
		for py := range 900 {
			for px := range 1600 - 290 {
				c := img.RGBAAt(px, py)
				x[[3]uint8{c.R, c.G, c.B}] = append(x[[3]uint8{c.R, c.G, c.B}], px)
			}
		}
		mean := func(c [3]uint8) float64 {
			require.NotEmpty(t, x[c], "%s: a side is not marked", name)
			sum := 0
			for _, v := range x[c] {
				sum += v
			}
			return float64(sum) / float64(len(x[c]))
		}
		a, b := mean([3]uint8{th.Line.R, th.Line.G, th.Line.B}), mean([3]uint8{th.Second.R, th.Second.G, th.Second.B})
		require.Positive(t, toB*(b-a), "%s: A at %.0f, B at %.0f", name, a, b)
	}
}

// Also on seams that run slantwise, where numbers beside them meet the next stations, the first, the last and every fifth station
// that has room are numbered, and no number stands on another or on a station.
func TestStationsAreNumberedOnSlantingSeams(t *testing.T) {
	for _, slant := range []float64{0, 0.5, 1, 2} {
		s := newSheet(1400, 1000, Light(), 2)
		d := drawnSeam{r: seamOf(36), project: func(p geom.Vec) [2]float64 { return [2]float64{300 + p.X, 900 - p.Z} }}
		var marks [][2]float64
		for i := range d.r.Stations {
			st := &d.r.Stations[i]
			along := 22 * float64(i) / math.Hypot(1, slant)
			st.P, st.A = geom.Vec{X: slant * along, Z: along}, geom.Vec{X: 1 / math.Hypot(1, slant), Z: -slant / math.Hypot(1, slant)}
			d.at, d.list = append(d.at, d.project(st.P)), append(d.list, i)
			marks = append(marks, d.at[i])
		}
		s.stationNumbers(&d, marks)
		noOverlap(t, s)
		words := strings.Fields(said(s))
		for _, number := range []string{"1", "36", "5", "10", "15", "20", "25", "30"} {
			require.Contains(t, words, number, "slant %v", slant)
		}
	}
}

func TestTheSeamPlotSaysWhichSideIsWhich(t *testing.T) {
	r := seamOf(12)
	require.Empty(t, sidesLine(r), "no direction is known")
	for i := range r.Stations {
		r.Stations[i].A = geom.Vec{X: 0.9, Y: 0.4}
	}
	require.Equal(t, "side A, wing: toward −x     side B, sliding door: toward +x", sidesLine(r))
	for i := range r.Stations {
		r.Stations[i].A = geom.Vec{X: -0.9, Y: 0.4}
	}
	require.Equal(t, "side A, wing: toward +x     side B, sliding door: toward −x", sidesLine(r))
	s := drawSeam(2000, 1100, Light(), 2, r, -1)
	keep(t, "seam-sides", s.img)
	noOverlap(t, s)

	st := r.Stations[0]
	require.Equal(t, ", toward +x", stationWay(&st, 0))
	require.Equal(t, ", toward −x", stationWay(&st, 1))
	noOverlap(t, drawStation(1600, 1100, Light(), 2, r.Seam, &st))
	noOverlap(t, drawStation(340, 240, Light(), 1, r.Seam, &st))
}
