package gapflush

import (
	"math"

	"shutline/deviation/verdict"
)

// cause is one independent source of error: how far it moves a side's h0, m, c, s, r at one standard uncertainty.
type cause struct {
	name string
	side Side
	d    [5]float64
}

var sideName = [2]string{"A", "B"}

// What the causes of either side are called.
var (
	heightOfFace            = ofSides("height of face ")
	directionOfFace         = ofSides("direction of face ")
	curvatureOfFace         = ofSides("curvature of face ")
	faceCarriedOnToShoulder = ofSides("face carried on to shoulder ")
	endOfFace               = ofSides("end of face ")
	smoothingOfTheScan      = ofSides("smoothing of the scan ")
	formOfEdge              = ofSides("form of edge ")
	scatterOfEdge           = ofSides("scatter of edge ")
	radiusOfEdge            = ofSides("radius of edge ")
	scatterOfFlange         = ofSides("scatter of flange ")
)

func ofSides(cause string) [2]string { return [2]string{cause + sideName[A], cause + sideName[B]} }

func causes(s *[2]sideState) []cause {
	const usual = 22 // two sides with every cause there is
	out := make([]cause, 0, usual)
	for k := A; k <= B; k++ {
		f, e := &s[k].face, &s[k].edge
		add := func(name [2]string, d [5]float64) { out = append(out, cause{name[k], k, d}) }
		follow := func(h0, m, c float64) [5]float64 {
			d := [5]float64{h0, m, c}
			for i := range 2 {
				d[3+i] = float64(e.toFace[i][0]*h0) + float64(e.toFace[i][1]*m) + float64(e.toFace[i][2]*c)
			}
			return d
		}
		l00 := math.Sqrt(max(f.cov[0][0], 0))
		l10 := 0.0
		if l00 > 0 {
			l10 = f.cov[0][1] / l00
		}
		add(heightOfFace, follow(l00, l10, 0))
		add(directionOfFace, follow(0, math.Sqrt(max(f.cov[1][1]-float64(l10*l10), 0)), 0))
		add(curvatureOfFace, follow(f.dh0*s[k].uc, f.dm*s[k].uc, s[k].uc))
		if s[k].off > 0 {
			// As the curvature that would move the shoulder so: it tilts the face there too.
			arm := e.s - f.y0
			c := s[k].off / max(math.Abs(f.dh0+float64(f.dm*arm)-float64(arm*arm/2)), 1)
			add(faceCarriedOnToShoulder, follow(f.dh0*c, f.dm*c, c))
		}
		if t := s[k].tilt; t > 0 {
			add(faceCarriedOnToShoulder, follow(-t*(e.s-f.y0), t, 0))
		}
		if !e.found {
			add(endOfFace, [5]float64{3: e.u})
			continue
		}
		if s[k].sunkU > 0 {
			add(smoothingOfTheScan, [5]float64{3: s[k].sunkU})
		}
		if s[k].slidU > 0 {
			add(smoothingOfTheScan, [5]float64{3: -s[k].slidU, 4: s[k].slidU})
		}
		if form := math.Sqrt(float64(s[k].formU*s[k].formU) + float64(e.form*e.form)); form > 0 {
			add(formOfEdge, [5]float64{3: form})
		}
		for _, d := range s[k].shape {
			if d != [2]float64{} {
				add(formOfEdge, [5]float64{3: d[0], 4: d[1]})
			}
		}
		e00 := math.Sqrt(max(e.data[0][0], 0))
		e10 := 0.0
		if e00 > 0 {
			e10 = e.data[0][1] / e00
		}
		add(scatterOfEdge, [5]float64{3: e00, 4: e10})
		add(scatterOfEdge, [5]float64{4: math.Sqrt(max(e.data[1][1]-float64(e10*e10), 0))})
		more := max(s[k].assumed, 1)
		add(radiusOfEdge, [5]float64{3: more * e.prior[0], 4: more * e.prior[1]})
	}
	return out
}

// moved is what a cause makes of a station's figures, either way.
type moved struct {
	name     string
	up, down figures
}

// movedBy returns what each cause makes of the figures.
func movedBy(s *[2]sideState, master Side) []moved {
	all := causes(s)
	out := make([]moved, len(all))
	for n, c := range all {
		var up, down [2][5]float64
		for i, v := range c.d {
			up[c.side][i], down[c.side][i] = v, -v
		}
		out[n] = moved{c.name, evaluate(s, &up, master), evaluate(s, &down, master)}
	}
	return out
}

// budget computes a figure's expanded uncertainty from the causes and the further lines given.
func budget(by []moved, pick func(*figures) float64, more []BudgetLine) ([]BudgetLine, float64) {
	lines := make([]BudgetLine, 0, len(by)+len(more))
	sum := 0.0
	put := func(name string, u float64) {
		sum += float64(u * u)
		for i := range lines {
			if lines[i].Source == name {
				lines[i].U = math.Sqrt(float64(lines[i].U*lines[i].U) + float64(u*u))
				return
			}
		}
		lines = append(lines, BudgetLine{name, u})
	}
	for i := range by {
		put(by[i].name, math.Abs(pick(&by[i].up)-pick(&by[i].down))/2)
	}
	for _, l := range more {
		put(l.Source, l.U)
	}
	return lines, 2 * math.Sqrt(sum)
}

func value(v, u float64) verdict.Value { return verdict.Value{V: v, U: u, OK: true} }
