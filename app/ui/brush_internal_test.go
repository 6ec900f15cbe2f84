package ui

import (
	"math"
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/driver/desktop"
	"github.com/stretchr/testify/require"

	"shutline/app/bench"
	"shutline/deviation"
	"shutline/deviation/chart"
	"shutline/deviation/shade"
	"shutline/deviation/verdict"
)

// sweepStrip drags over the histogram from one deviation to another.
func (r *rig) sweepStrip(lo, hi float64) {
	c := r.strip.chart
	axis := chart.HistogramLayout(c.w, c.h, c.scale(), r.scaleOf().Tolerance, r.scaleOf())
	at := func(mm float64) fyne.Position { return fyne.NewPos(float32(axis.X(mm)/c.scale()), 60) }
	c.MouseDown(&desktop.MouseEvent{PointEvent: fyne.PointEvent{Position: at(lo)}, Button: desktop.MouseButtonPrimary})
	c.Dragged(&fyne.DragEvent{PointEvent: fyne.PointEvent{Position: at(hi)}})
	c.DragEnd()
	r.pump("the paint", func() bool { return !r.brush.painting })
}

// colourAt returns the colour of a share of the view, once it is painted with what is lit now.
func (r *rig) lookedAt() [3]uint8 {
	r.t.Helper()
	var c [3]uint8
	pic := shade.Render(r.view.models, r.view.camera, currentPalette().view, 200, 200, 1)
	p := pic.Image.RGBAAt(100, 100)
	c = [3]uint8{p.R, p.G, p.B}
	return c
}

// Every point of the rig's sheet reads 0.8 mm.
func TestTheBrushLightsTheSurface(t *testing.T) {
	r := newRig(t)
	r.open()
	r.bench.Show(bench.Surface)
	r.view.fit("left")
	r.seen()
	r.pump("the strip", func() bool { return r.strip.chart.done != nil })
	coloured := r.lookedAt()
	r.sweepStrip(0.7, 0.95)
	require.True(t, r.brush.on)
	require.InDelta(t, 0.7, r.brush.lo, 0.02)
	require.InDelta(t, 1, r.brush.said.share, 1e-9)
	require.Contains(t, r.texts(r.litTag), "Lit: +0.70 mm to +0.95 mm, 100")
	lit := r.lookedAt()
	r.sweepStrip(-0.3, 0.3)
	require.InDelta(t, 0, r.brush.said.share, 1e-9)
	unlit := r.lookedAt()
	require.Greater(t, int(unlit[0])-int(lit[0]), 60, "what is lit stands out from what is not, by lightness alone")
	require.NotEqual(t, coloured, lit)
	r.sweepStrip(1.2, 99)
	require.True(t, math.IsInf(r.brush.hi, 1), "the plot's end stands for all beyond it")
	r.press(fyne.KeyEscape)
	r.pump("the paint", func() bool { return !r.brush.painting })
	require.False(t, r.brush.on)
	require.False(t, r.litTag.Visible())
	require.Equal(t, coloured, r.lookedAt(), "the colours are back")
	r.sweepStrip(0.7, 0.95)
	r.bench.Show(bench.Seams)
	require.False(t, r.brush.on, "on another stage it is out")
}

// What is lit ends at the brushed values between points, too: inside is above 0, outside below, linear in between.
func TestLitnessEndsAtTheRange(t *testing.T) {
	got := litness([]float64{0.5, 1, 1.5, 2, 2.5, 0}, 1, 2)
	for i, inside := range []int{-1, 0, 1, 0, -1, -1} {
		switch inside {
		case 0:
			require.InDelta(t, 0, got[i], 1e-12)
		case 1:
			require.Greater(t, got[i], 1.0)
		default:
			require.Less(t, got[i], -1.0)
		}
	}
	require.InDelta(t, got[0], 0.5*(got[5]+0), 1e-9, "half way out is half as far out")
	for _, v := range litness([]float64{-9, 9}, math.Inf(-1), math.Inf(1)) {
		require.Greater(t, v, 1.0)
	}
}

func TestTheWorstPlacesAreCalledOut(t *testing.T) {
	r := newRig(t)
	r.open()
	c := r.bench.Outcome().Compared
	c.Clusters.List = []deviation.Cluster{
		{State: deviation.BeyondByU, Area: 50, Peak: 40, Value: verdict.Value{V: -1.24, OK: true}, Verdict: verdict.DoesNotConform},
		{State: deviation.BeyondWithinU, Area: 20, Peak: 41, Value: verdict.Value{V: 0.6, OK: true}},
		{State: deviation.BeyondWithinU, Area: 400, Peak: 50, Value: verdict.Value{V: 0.7, OK: true}, Verdict: verdict.Undecided},
	}
	list := callOuts(r.bench.Outcome())
	require.Len(t, list, 2, "a speck that may be in tolerance is not called out")
	require.Equal(t, []string{"1", "−1.24 mm", "3"}, []string{list[0].Label, list[0].Text, list[1].Label})
	require.Equal(t, r.bench.Outcome().Placed.Mesh.Vertices[50], list[1].At)
	r.bench.Show(bench.Surface)
	r.view.fit("left")
	settled := func() string {
		for range 3 { // what was asked for before may still be on its way
			r.view.picture = nil
			r.view.draw()
			r.pump("the view", func() bool { return r.view.picture != nil })
		}
		return string(r.view.picture.Image.Pix)
	}
	r.paint()
	with := settled()
	r.toggleCalls()
	require.True(t, with != settled(), "they can be taken away")
	require.True(t, r.app.Preferences().Bool(prefNoCalls))
}
