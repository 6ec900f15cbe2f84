package chart

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/shade"
	"shutline/deviation/verdict"
)

// Twelve places anywhere in the middle of a picture get labels around it
// that stand apart, with lines that cross neither one another nor a label.
func TestLabelsStandApartAndLinesDoNotCross(t *testing.T) {
	var slots []slot
	for row := range 20 {
		for col := range 10 {
			b := slot{float64(100 * col), float64(40 * row), float64(100*col) + 90, float64(40*row) + 30}
			if row < 2 || row > 17 || col == 0 || col == 9 {
				slots = append(slots, b)
			}
		}
	}
	for seed := range uint64(40) {
		r := rand.New(rand.NewPCG(seed, 1))
		at := make([][2]float64, 12)
		for i := range at {
			at[i] = [2]float64{150 + 700*r.Float64(), 120 + 560*r.Float64()}
		}
		where := placeLabels(at, slots)
		used := map[int]bool{}
		for i, w := range where {
			require.GreaterOrEqual(t, w, 0)
			require.False(t, used[w])
			used[w] = true
			for j := range i {
				require.False(t, crosses(at[i], slots[w].nearest(at[i]), at[j], slots[where[j]].nearest(at[j])), "seed %d: lines %d and %d", seed, i, j)
				require.False(t, meets(at[i], slots[w].nearest(at[i]), slots[where[j]]), "seed %d: line %d, label %d", seed, i, j)
			}
		}
	}
	require.Equal(t, []int{-1}, placeLabels([][2]float64{{1, 1}}, nil), "no room, no slot")
}

func TestPlacesAreCalledOut(t *testing.T) {
	m, mm, known := skin(240)
	sc := shade.NewScale(verdict.Tolerance{Lo: -0.5, Hi: 0.5})
	model := shade.NewModel(m, nil)
	model.Paint(mm, known, sc)
	var list []CallOut
	for k, at := range [][2]int{{86, 66}, {178, 164}, {10, 20}, {230, 230}, {120, 120}, {60, 200}} {
		v := m.Vertices[at[0]*241+at[1]]
		list = append(list, CallOut{At: v, Label: fmt.Sprint(k + 1), Text: signed(mm[at[0]*241+at[1]], 2) + " mm", Verdict: verdict.Verdict(1 + k%3)})
	}
	behind := list[0]
	behind.At.Y += 100
	info := HeatInfo{Title: "Left wing, second trial fit", View: "left", Lines: []Line{{"RMS", "0.41 mm"}}, CallOuts: append(list, behind)}
	cam, _ := HeatCamera("left", model.Box(), 1600, 1000, 2)
	cam = cam.Inset(1600, 1000, 0, 40, 0, 40)
	pic := shade.RenderStill([]*shade.Model{model}, cam, shade.LightTheme(), 1600, 1000, 0)
	s := drawHeat(pic, cam, sc, info, Light(), 2)
	keep(t, "heat-called-out", s.img)
	noOverlap(t, s)
	texts := ""
	for _, w := range s.texts {
		texts += w.text + "\n"
	}
	require.Contains(t, texts, "6 of 7", "what lies behind the part is not drawn")
	for _, c := range list {
		require.Contains(t, texts, c.Text)
	}

	ramp := shade.Ramp{Limit: 0.2}
	u := make([]float64, len(mm))
	for i, v := range m.Vertices {
		u[i] = 0.05 + 0.15*v.X/1200
	}
	model.PaintRamp(u, known, ramp)
	pic = shade.RenderStill([]*shade.Model{model}, cam, shade.LightTheme(), 1600, 1000, 0)
	info.CallOuts = nil
	img := Doubts(pic, cam, ramp, 0.15, info, Light(), 2)
	keep(t, "doubts", img)
	require.Equal(t, pic.Image.Rect, img.Rect)
}
