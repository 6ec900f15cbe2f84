package seamfind

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"shutline/mesh/geom"
)

// leastTilt is the size of a component by which "nearer the front" or "upper" is
// told; with less of it both sides are as near or as high.
const leastTilt = 0.15

// Runs says which way a course runs: "along" the vehicle (X rearward), "across"
// it or "upright"; of slanting ones, along only where they do more than 45°.
func (c *Course) Runs() string {
	d := c.Path[len(c.Path)-1].Sub(c.Path[0])
	if d.Norm() < 0.3*lengthOf(c.Path) { // nearly closed: its longest way
		d = geom.BoxOf(c.Path).Size()
	}
	x, y, z := math.Abs(d.X), math.Abs(d.Y), math.Abs(d.Z)
	switch {
	case x > math.Sqrt(float64(y*y)+float64(z*z)):
		return "along"
	case z >= y:
		return "upright"
	}
	return "across"
}

// Orient returns the course in the direction in which side A, on the left hand
// walking along it with the outside up, is the panel nearer the front, on courses that
// run along the vehicle the upper one; of panels as high as one another the one
// nearer the vehicle's middle, as bodies are vaulted.
func Orient(c Course) Course {
	if len(c.Path) < 2 {
		return c
	}
	// a, from A to B, summed along the path.
	var a geom.Vec
	for i := 1; i < len(c.Path); i++ {
		a = a.Add(c.Path[i].Sub(c.Path[i-1]).Cross(c.Outward[i]))
	}
	a = a.Unit()
	turned := a.X < 0
	if c.Runs() == "along" {
		switch {
		case math.Abs(a.Z) >= leastTilt:
			turned = a.Z > 0
		default:
			turned = float64(a.Y*c.Path[len(c.Path)/2].Y) < 0
		}
	} else if math.Abs(a.X) < leastTilt {
		turned = a.Z > 0
	}
	if !turned {
		return c
	}
	out := c
	out.Path, out.Outward = slices.Clone(c.Path), slices.Clone(c.Outward)
	out.Seen, out.Width = slices.Clone(c.Seen), slices.Clone(c.Width)
	slices.Reverse(out.Path)
	slices.Reverse(out.Outward)
	slices.Reverse(out.Seen)
	slices.Reverse(out.Width)
	return out
}

// where says where a course lies: the side of the body it looks from, which way
// it runs, and at which coordinate.
func (c *Course) where() string {
	var u geom.Vec
	for _, o := range c.Outward {
		u = u.Add(o)
	}
	side := ""
	switch x, y, z := math.Abs(u.X), math.Abs(u.Y), math.Abs(u.Z); {
	case y >= x && y >= z:
		side = "left"
		if u.Y > 0 {
			side = "right"
		}
	case z >= x:
		side = "top"
		if u.Z < 0 {
			side = "under"
		}
	default:
		side = "front"
		if u.X > 0 {
			side = "rear"
		}
	}
	m := c.middle()
	switch runs := c.Runs(); {
	case runs == "along" && (side == "top" || side == "under"):
		return fmt.Sprintf("%s along at y %.0f", side, round(m.Y))
	case runs == "along":
		return fmt.Sprintf("%s along at z %.0f", side, round(m.Z))
	case side == "front" || side == "rear":
		if runs == "upright" {
			return fmt.Sprintf("%s upright at y %.0f", side, round(m.Y))
		}
		return fmt.Sprintf("%s across at z %.0f", side, round(m.Z))
	default:
		return fmt.Sprintf("%s %s at x %.0f", side, runs, round(m.X))
	}
}

// axisWords puts the axes in place of the words that say how they lie on a vehicle.
var axisWords = strings.NewReplacer("left ", "side -y ", "right ", "side +y ", "top ", "side +z ", "under ", "side -z ", "front ", "side -x ", "rear ", "side +x ",
	"upright at", "along z at", "across at", "along y at", "along at", "along x at")

// middle returns the point half way along the path.
func (c *Course) middle() geom.Vec {
	half, at := float64(lengthOf(c.Path)/2), 0.0
	for i := 1; i < len(c.Path); i++ {
		d := c.Path[i].Dist(c.Path[i-1])
		if at+d >= half && d > 0 {
			return c.Path[i-1].Lerp(c.Path[i], (half-at)/d)
		}
		at += d
	}
	return c.Path[len(c.Path)-1]
}

// round takes a coordinate to 10 mm, so that names stay from scan to scan.
func round(v float64) float64 { return float64(math.Round(v/10)*10) + 0 }

// name sorts seams front to rear and names them by where they lie.
func name(list []Seam, ownAxes bool) {
	slices.SortStableFunc(list, func(a, b Seam) int {
		p, q := a.middle(), b.middle()
		for _, d := range [3]float64{p.X - q.X, p.Z - q.Z, p.Y - q.Y} {
			if d < 0 {
				return -1
			}
			if d > 0 {
				return 1
			}
		}
		return 0
	})
	count := map[string]int{}
	for k := range list {
		w := list[k].where()
		if ownAxes {
			w = axisWords.Replace(w)
		}
		count[w]++
		if n := count[w]; n > 1 {
			w = fmt.Sprintf("%s (%d)", w, n)
		}
		list[k].Name = w
	}
}
