package chart

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation"
	"shutline/deviation/crosscut"
	"shutline/deviation/verdict"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
	"shutline/mesh/surface"
)

// A vaulted panel with a dent, cut across and along.
func dented(t *testing.T, spec crosscut.Spec) *crosscut.Section {
	ctx := context.Background()
	ref := bodywork.CylinderPatch(400, 0.5, 300, 4)
	scan := bodywork.WithNoise(bodywork.Mapped(ref, func(p geom.Vec) geom.Vec {
		d := (math.Pow(p.X-40, 2) + math.Pow(p.Y-150, 2)) / 900
		return p.AddScaled(-2.2*math.Exp(-d)/400, geom.Vec{X: p.X, Z: p.Z})
	}), 0.02, 1)
	on, err := surface.New(ctx, ref, 0, nil)
	require.NoError(t, err)
	m, err := crosscut.NewMaker(ctx, scan, scan.VertexNormals(), on, 10, verdict.Tolerance{Lo: -0.5, Hi: 0.5}, 0)
	require.NoError(t, err)
	s, err := m.Cut(ctx, spec)
	require.NoError(t, err)
	return s
}

func TestSectionDrawingsKeepTheirTextsApart(t *testing.T) {
	top := geom.Vec{Y: 150, Z: 400}
	for name, spec := range map[string]crosscut.Spec{
		"across": {Name: "across", Point: geom.Vec{Y: 150}, Normal: geom.Vec{Y: 1}, Radii: []crosscut.RadiusSpec{
			{Name: "crown", At: top, Within: 60}, {Name: "beside it", At: top.Add(geom.Vec{X: 10}), Within: 60}, {Name: "nowhere", At: geom.Vec{}, Within: 3}}},
		"along": {Name: "along the middle of a panel with a long name that says a lot about where it lies", Point: geom.Vec{X: 40}, Normal: geom.Vec{X: 1}, Magnify: 10,
			Angles: []crosscut.AngleSpec{{Name: "bend", Between: [2]geom.Vec{{X: 40, Y: 50, Z: 398}, {X: 40, Y: 250, Z: 398}}, Within: 30}}},
		"slantwise": {Name: "slantwise", Point: geom.Vec{Y: 150, Z: 380}, Normal: geom.Vec{X: 1, Y: 1, Z: 0.3}},
	} {
		cut := dented(t, spec)
		for _, size := range [][3]float64{{2000, 1400, 2}, {900, 640, 1}, {420, 360, 1}} {
			s := drawSection(int(size[0]), int(size[1]), Light(), size[2], cut, SectionInfo{Title: spec.Name, Plane: "plane y = 150.0 mm", Across: "x, mm", Up: "z, mm"})
			what := fmt.Sprintf("%s at %v", name, size)
			for i, a := range s.texts {
				require.True(t, a.x0 >= 0 && a.x1 <= s.w && a.y0 >= 0 && a.y1 <= s.h+2, "%s: %q lies outside", what, a.text)
				for _, b := range s.texts[i+1:] {
					require.False(t, a.x0 < b.x1 && b.x0 < a.x1 && a.y0 < b.y1 && b.y0 < a.y1, "%s: %q covers %q", what, a.text, b.text)
				}
			}
		}
	}
}

// Whiskers end in the frame, whichever way the surface they stand on looks and however large the factor that the
// free room beside the part would allow.
func TestWhiskersStayInTheFrame(t *testing.T) {
	s := newSheet(2000, 1400, Light(), 2)
	cut := dented(t, crosscut.Spec{Point: geom.Vec{Y: 150}, Normal: geom.Vec{Y: 1}})
	p := s.sectionPlaneOf(cut)
	for _, factor := range []float64{50, 5000, 1e6} {
		f := p.inFrame(cut, factor)
		require.LessOrEqual(t, f, factor)
		outside, all := 0, 0
		for i := range cut.Scan {
			c := &cut.Scan[i]
			for k := range c.State {
				if c.State[k] == deviation.Measured {
					all++
					if _, end := tip(c, k, p, f); end[0] < p.x0 || end[0] > p.x1 || end[1] < p.y0 || end[1] > p.y1 {
						outside++
					}
				}
			}
		}
		require.Positive(t, all)
		require.LessOrEqual(t, 100*outside, all, "factor %g", f)
	}
}

// A read-out far from the part neither shrinks the drawing nor is drawn, and says how far off it is; a scan that is
// all but the reference is not magnified until its noise is as large as what is allowed.
func TestWhatIsFarOrSmallLeavesTheDrawingAlone(t *testing.T) {
	spec := crosscut.Spec{Point: geom.Vec{Y: 150}, Normal: geom.Vec{Y: 1}}
	s := newSheet(2000, 1400, Light(), 2)
	alone := s.sectionPlaneOf(dented(t, spec))
	spec.Radii = []crosscut.RadiusSpec{{Name: "nowhere", At: geom.Vec{Y: 150, Z: 90400}, Within: 10}}
	cut := dented(t, spec)
	require.Equal(t, alone, s.sectionPlaneOf(cut))
	require.Contains(t, cut.Readings[0].Why, "its place lies 90000")
	for _, text := range drawSection(2000, 1400, Light(), 2, cut, SectionInfo{}).texts {
		require.NotContains(t, text.text, "nowhere")
	}
	for _, d := range []float64{0, 1e-13, 1e-9, 1e-3, 0.05} {
		cut.Figures.Lowest.V, cut.Figures.Highest.V = -d, d
		f := s.magnify(cut, alone)
		require.LessOrEqual(t, f*leastShown*alone.scale, alone.whisker+1e-9, "%g mm of 1 mm allowed", d)
		require.GreaterOrEqual(t, f, 1.0)
	}
	cut.Tolerance = verdict.Tolerance{}
	require.LessOrEqual(t, s.magnify(cut, sectionPlane{scale: 1e-9, whisker: 50}), crosscut.MostMagnify)
}

// What is drawn is true to scale: the factor named times the deviation times the scale is the whisker's length.
func TestWhiskersAreAsLongAsTheySay(t *testing.T) {
	cut := dented(t, crosscut.Spec{Point: geom.Vec{Y: 150}, Normal: geom.Vec{Y: 1}})
	s := newSheet(2000, 1400, Light(), 2)
	p := s.sectionPlaneOf(cut)
	factor := s.magnify(cut, p)
	require.Contains(t, []float64{1, 2, 5, 10, 20, 50, 100}, factor)
	c := &cut.Scan[0]
	for k := range c.Points {
		foot, end := tip(c, k, p, factor)
		require.InDelta(t, math.Abs(factor*c.Deviation[k]*p.scale), math.Hypot(end[0]-foot[0], end[1]-foot[1]), 1e-6)
	}
	longest := max(-cut.Figures.Lowest.V, cut.Figures.Highest.V) * factor * p.scale
	require.LessOrEqual(t, longest, p.whisker+1e-9)
	require.Greater(t, longest, p.whisker/2.6, "the next factor of 1, 2, 5 would be too large")
}

// hemCut is a cut across two wide panels with a read-out on a hem of 1.5 mm that is a dot in the drawing.
func hemCut(t *testing.T) *crosscut.Section {
	ctx := context.Background()
	o := bodywork.SeamPieceOptions{Radius: [2]float64{1.5, 1.5}, Gap: 4, Flush: 0.8, Width: 400, Length: 20, Spacing: 0.4}
	ref := bodywork.NewSeamPiece(o).Mesh
	o.Noise, o.Seed, o.Jitter = 0.02, 1, 0.3
	scan := bodywork.NewSeamPiece(o).Mesh
	on, err := surface.New(ctx, ref, 0, nil)
	require.NoError(t, err)
	m, err := crosscut.NewMaker(ctx, scan, scan.VertexNormals(), on, 5, verdict.Tolerance{Lo: -0.5, Hi: 0.5}, 0)
	require.NoError(t, err)
	nose := geom.Vec{X: -2.44, Y: 10, Z: -0.44} // at 45° of the left hem, whose centre lies at -3.5, -1.5
	s, err := m.Cut(ctx, crosscut.Spec{Name: "hem", Point: geom.Vec{Y: 10}, Normal: geom.Vec{Y: 1}, Radii: []crosscut.RadiusSpec{{Name: "left hem", At: nose, Within: 1.2}}})
	require.NoError(t, err)
	require.True(t, s.Readings[0].Scan.OK, s.Readings[0].Why)
	return s
}

// A read-out whose radius would be a dot is drawn larger in a box that says by how much, holds
// its words and covers no other text; where it is large enough there is none.
func TestSmallRadiiAreDrawnLarger(t *testing.T) {
	cut := hemCut(t)
	for _, size := range [][3]float64{{2000, 1400, 2}, {900, 640, 1}} {
		s := drawSection(int(size[0]), int(size[1]), Light(), size[2], cut, SectionInfo{Title: "hem", Plane: "plane y = 10.0 mm", Across: "x, mm", Up: "z, mm"})
		larger, words := 0, 0
		for i, a := range s.texts {
			if strings.HasSuffix(a.text, " × larger") {
				larger++
			}
			if strings.HasPrefix(a.text, "left hem: R 1.") {
				words++
			}
			for _, b := range s.texts[i+1:] {
				require.False(t, a.x0 < b.x1 && b.x0 < a.x1 && a.y0 < b.y1 && b.y0 < a.y1, "%q covers %q", a.text, b.text)
			}
		}
		require.Equal(t, [2]int{1, 1}, [2]int{larger, words}, "%v", size)
	}
	top := geom.Vec{Y: 150, Z: 400}
	crown := dented(t, crosscut.Spec{Point: geom.Vec{Y: 150}, Normal: geom.Vec{Y: 1}, Radii: []crosscut.RadiusSpec{{Name: "crown", At: top, Within: 60}}})
	for _, a := range drawSection(2000, 1400, Light(), 2, crown, SectionInfo{}).texts {
		require.NotContains(t, a.text, "larger")
	}
}

// Where places lie far apart in a small section, labels keep off the lines between them, and no line to a label runs across another.
func TestLabelsKeepOffTheLinesBetweenPlaces(t *testing.T) {
	c := crosscut.Curve{}
	ref := crosscut.Curve{}
	for k := range 9 {
		v := float64(10 * k)
		d := -2.6 + float64((k-4)*(k-4))*0.12
		c.Points = append(c.Points, crosscut.Point2{H: -d, V: v})
		c.Places = append(c.Places, geom.Vec{})
		c.Deviation, c.State, c.Out = append(c.Deviation, d), append(c.State, deviation.Measured), append(c.Out, crosscut.Point2{H: -1})
		ref.Points = append(ref.Points, crosscut.Point2{V: v})
	}
	cut := &crosscut.Section{Scan: []crosscut.Curve{c}, Reference: []crosscut.Curve{ref}, HasReference: true, Tolerance: verdict.Tolerance{Lo: -0.5, Hi: 0.5}}
	cut.Figures = crosscut.Figures{Measured: 9, Points: 9, Lowest: verdict.Value{V: -2.6, OK: true}, Highest: verdict.Value{V: -0.68, OK: true}, AtLowest: c.Points[4], AtHighest: c.Points[8]}
	for _, at := range []float64{38, 42} {
		cut.Readings = append(cut.Readings, crosscut.Reading{Name: "near the lowest", Kind: "radius", At: [2]crosscut.Point2{{H: 2, V: at}, {H: 2, V: at}}, Why: "no"})
	}
	for _, size := range [][2]int{{1400, 2000}, {2000, 1400}, {1000, 800}} {
		s := drawSection(size[0], size[1], Light(), 2, cut, SectionInfo{Title: "dent"})
		p := s.sectionPlaneOf(cut)
		factor := s.magnify(cut, p)
		labels := 0
		for _, text := range s.texts {
			if !strings.HasPrefix(text.text, "lowest") && !strings.HasPrefix(text.text, "highest") && !strings.HasPrefix(text.text, "near") || text.y0 > p.y1 {
				continue
			}
			labels++
			box := [4]float64{text.x0, text.y0, text.x1, text.y1}
			for k := 1; k < 9; k++ {
				_, a := tip(&c, k-1, p, factor)
				_, b := tip(&c, k, p, factor)
				for name, line := range map[string][2][2]float64{"scan": {p.at(c.Points[k-1]), p.at(c.Points[k])}, "reference": {p.at(ref.Points[k-1]), p.at(ref.Points[k])}, "whiskers' ends": {a, b}} {
					_, _, covered := clip(line[0], line[1], box)
					require.False(t, covered, "%q covers the %s at %d, %v", text.text, name, k, size)
				}
			}
		}
		require.Equal(t, 4, labels)
	}
}

// What is left of a line within a box, worked out by hand.
func TestClippedLines(t *testing.T) {
	box := [4]float64{0, 0, 10, 10}
	for _, c := range []struct {
		a, b, p, q [2]float64
		ok         bool
	}{
		{[2]float64{2, 3}, [2]float64{4, 5}, [2]float64{2, 3}, [2]float64{4, 5}, true},
		{[2]float64{-5, 5}, [2]float64{15, 5}, [2]float64{0, 5}, [2]float64{10, 5}, true},
		{[2]float64{-5, 0}, [2]float64{5, 10}, [2]float64{0, 5}, [2]float64{5, 10}, true},
		{[2]float64{-5, 11}, [2]float64{15, 11}, [2]float64{}, [2]float64{}, false},
		{[2]float64{-4, 8}, [2]float64{4, 16}, [2]float64{}, [2]float64{}, false},
	} {
		p, q, ok := clip(c.a, c.b, box)
		require.Equal(t, c.ok, ok, "%v to %v", c.a, c.b)
		require.Equal(t, [2][2]float64{c.p, c.q}, [2][2]float64{p, q})
	}
}

// A flat cut gets a low sheet and an upright one a narrow one, and either fills its sheet lengthwise.
func TestASheetIsAsItsCut(t *testing.T) {
	line := func(h, v float64) *crosscut.Section {
		c := crosscut.Curve{}
		for k := range 50 {
			c.Points = append(c.Points, crosscut.Point2{H: h * float64(k) / 49, V: v * float64(k) / 49})
		}
		return &crosscut.Section{Reference: []crosscut.Curve{c}}
	}
	for _, c := range []struct {
		wide, tall float64
		slender    bool
	}{{2400, 100, true}, {100, 2400, true}, {800, 600, false}, {2400, 0, true}} {
		cut := line(c.wide, c.tall)
		w, h := SectionSheet(cut, 2000, 1400, 2)
		require.Equal(t, 2000, max(w, h))
		require.LessOrEqual(t, min(w, h), 1400)
		if c.slender {
			require.Equal(t, c.wide > c.tall, w > h)
		}
		if c.slender && w > h {
			require.Less(t, h, 1000)
		}
		s := newSheet(w, h, Light(), 2)
		p := s.sectionPlaneOf(cut)
		room := max((p.x1 - p.x0), (p.y1 - p.y0))
		require.Greater(t, max(c.wide, c.tall)*p.scale, 0.75*room, "%v by %v mm on %d by %d", c.wide, c.tall, w, h)
	}
	w, h := SectionSheet(nil, 2000, 1400, 2)
	require.Equal(t, [2]int{2000, 1400}, [2]int{w, h})
}

// Arrows begin beside the curve and point away from the cylinder's axis, which is where the panel's outside is; a panel whose
// faces are turned round has them the other way, as its deviations have. A scan alone has them too.
func TestArrowsPointOutside(t *testing.T) {
	s := newSheet(2000, 1400, Light(), 2)
	for _, c := range []struct {
		name  string
		cut   *crosscut.Section
		away  float64
		least int
	}{
		{"vaulted", dented(t, crosscut.Spec{Point: geom.Vec{Y: 150}, Normal: geom.Vec{Y: 1}}), 1, 2},
		{"the plane seen from behind", dented(t, crosscut.Spec{Point: geom.Vec{Y: 150}, Normal: geom.Vec{Y: -1}}), 1, 2},
		{"turned round", turned(dented(t, crosscut.Spec{Point: geom.Vec{Y: 150}, Normal: geom.Vec{Y: 1}})), -1, 2},
		{"alone", alone(dented(t, crosscut.Spec{Point: geom.Vec{Y: 150}, Normal: geom.Vec{Y: 1}})), 1, 2},
	} {
		p := s.sectionPlaneOf(c.cut)
		marks := s.outsideMarks(p, c.cut, s.sectionBusy(p, c.cut, 1))
		require.GreaterOrEqual(t, len(marks), c.least, c.name)
		axis := p.at(crosscut.Point2{}) // the plane's point lies on the cylinder's axis
		for _, m := range marks {
			foot, point := hypot(m.foot[0]-axis[0], m.foot[1]-axis[1]), hypot(m.point[0]-axis[0], m.point[1]-axis[1])
			require.InDelta(t, c.away*s.px(outsideLong-outsideFrom), point-foot, 1, c.name)
			require.InDelta(t, 400*p.scale, foot, s.px(outsideFrom)+2.3*p.scale, c.name)
		}
		said := ""
		for _, text := range drawSection(2000, 1400, Light(), 2, c.cut, SectionInfo{}).texts {
			said += text.text + "\n"
		}
		require.Equal(t, 2, strings.Count(said, "outside\n"), "in the key and beside an arrow")
	}
}

func turned(cut *crosscut.Section) *crosscut.Section {
	for _, curves := range [][]crosscut.Curve{cut.Scan, cut.Reference} {
		for i := range curves {
			for k, o := range curves[i].Out {
				curves[i].Out[k] = crosscut.Point2{H: -o.H, V: -o.V}
			}
		}
	}
	return cut
}

func alone(cut *crosscut.Section) *crosscut.Section {
	cut.Reference, cut.HasReference, cut.Figures = nil, false, crosscut.Figures{}
	for i := range cut.Scan {
		cut.Scan[i].State, cut.Scan[i].Deviation = nil, nil
	}
	return cut
}
