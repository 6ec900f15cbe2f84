package seampath

import (
	"context"
	"math"
	"slices"

	"shutline/mesh/geom"
	"shutline/mesh/parallel"
	"shutline/mesh/surface"
)

// How a path is laid. A first pass looks far for the gap beside the straight
// line between the clicks, since shut lines are bowed; a second one looks closely
// beside the path the first has found.
const (
	apart     = 0.1  // mm between clicks that are two
	step      = 8.0  // mm between places looked at, a third of the usual distance of stations
	farWidth  = 40.0 // mm to either side, first pass: the bow of a door's edge between clicks 800 mm apart
	farGrid   = 1.0
	nearWidth = 12.0
	nearGrid  = 0.25
	nearRows  = 2.5 // mm along the path between the three rows of the second pass, over a point spacing of 1.5 mm
	above     = 15.0
	below     = 30.0 // mm above and below the skin that is looked at for a gap
)

// Lay lays a path through the clicks, of which two or more must lie apart. The
// error is ctx's.
func (g *Ground) Lay(ctx context.Context, clicks []Click) (Path, error) {
	line, err := g.drape(ctx, clicks)
	if err != nil || len(line) < 2 {
		return Path{}, err
	}
	for _, pass := range []struct {
		width, grid float64
		rows        []float64
	}{{farWidth, farGrid, []float64{0}}, {nearWidth, nearGrid, []float64{-nearRows, 0, nearRows}}} {
		if err := ctx.Err(); err != nil {
			return Path{}, err
		}
		g.snap(ctx, line, pass.width, pass.grid, pass.rows)
	}
	found := 0
	points := make([]geom.Vec, len(line))
	for i, p := range line {
		points[i] = p.at
		if p.found {
			found++
		}
	}
	return Path{Points: smoothed(points), Found: float64(found) / float64(len(line))}, ctx.Err()
}

// place is a place of the path.
type place struct {
	at, out geom.Vec
	slack   float64 // mm; of a clicked place, which the path keeps near; 0: any other
	found   bool    // a gap was found there
}

// drape lays straight lines between the clicks down on the skin.
func (g *Ground) drape(ctx context.Context, clicks []Click) ([]place, error) {
	clicks = slices.CompactFunc(slices.Clone(clicks), func(a, b Click) bool { return a.At.Dist(b.At) < apart })
	var line []place
	for k := 1; k < len(clicks); k++ {
		a, b := clicks[k-1], clicks[k]
		long := a.At.Dist(b.At)
		n := max(1, int(float64(long/step)+0.5))
		first := len(line)
		for i := range n {
			t := float64(i) / float64(n)
			line = append(line, place{at: a.At.Lerp(b.At, t), out: a.Outward.Lerp(b.Outward, t).Unit()})
		}
		line[first].slack = sharp(a.Slack)
		if k == len(clicks)-1 {
			line = append(line, place{at: b.At, out: b.Outward, slack: sharp(b.Slack)})
		}
		// A body bends away from the line between two clicks by at most half its length.
		if err := g.lower(ctx, line[first:], float64(long/2)+above); err != nil {
			return nil, err
		}
	}
	return line, nil
}

// sharp is how far beside the gap a click may lie and mean it, half as far as
// where it does not: nobody hits the middle of a gap, and many click beside it.
func sharp(slack float64) float64 { return max(5, slack) }

// lower brings places down on the skin; where there is none, or where a height
// jumps out of its neighbours', they take the height between theirs.
func (g *Ground) lower(ctx context.Context, line []place, reach float64) error {
	heights := make([]float64, len(line))
	normals := make([]geom.Vec, len(line))
	finders := make([]*surface.Finder, parallel.Threads(g.Threads))
	err := parallel.Chunks(ctx, len(line), 1, g.Threads, nil, func(worker, i, _, _ int) {
		if finders[worker] == nil {
			finders[worker] = g.surface.NewFinder()
		}
		p := line[i]
		heights[i] = math.NaN()
		at, normal, ok := Skin(p.at, p.out, g.from(finders[worker], p.out, reach, reach))
		if ok {
			heights[i], normals[i] = at.Sub(p.at).Dot(p.out), normal
		}
	})
	if err != nil {
		return err
	}
	for i := range heights {
		var near []float64
		for _, h := range heights[max(0, i-2):min(len(heights), i+3)] {
			if h == h {
				near = append(near, h)
			}
		}
		// Over 16 mm no skin rises or falls as steeply as a jump onto another part.
		if len(near) >= 3 && math.Abs(heights[i]-median(near)) > 2*onSkin {
			normals[i], heights[i] = geom.Vec{}, math.NaN()
		}
	}
	bridge(heights)
	for i := range line {
		if heights[i] == heights[i] {
			line[i].at = line[i].at.AddScaled(heights[i], line[i].out)
		}
		if normals[i] != (geom.Vec{}) {
			line[i].out = normals[i]
		}
	}
	return nil
}

// bridge fills runs of NaN with the straight line between their neighbours.
func bridge(v []float64) {
	last := -1
	for i := range v {
		if v[i] != v[i] {
			continue
		}
		for k := last + 1; k < i; k++ {
			v[k] = v[i]
			if last >= 0 {
				v[k] = v[last] + (v[i]-v[last])*float64(k-last)/float64(i-last)
			}
		}
		last = i
	}
	for k := last + 1; k < len(v) && last >= 0; k++ {
		v[k] = v[last]
	}
}

// frames returns the direction along the path at each place and the one across.
func frames(line []place) (across []geom.Vec, along []geom.Vec) {
	across, along = make([]geom.Vec, len(line)), make([]geom.Vec, len(line))
	for i := range line {
		f := line[min(len(line)-1, i+2)].at.Sub(line[max(0, i-2)].at)
		u := line[i].out
		f = f.AddScaled(-f.Dot(u), u).Unit()
		along[i], across[i] = f, f.Cross(u)
	}
	return across, along
}

// snap moves the places sideways into the middle of the gap.
func (g *Ground) snap(ctx context.Context, line []place, width, grid float64, rows []float64) {
	side, along := frames(line)
	found := make([][]dip, len(line))
	outlines := make([]outline, parallel.Threads(g.Threads))
	err := parallel.Chunks(ctx, len(line), 1, g.Threads, nil, func(worker, i, _, _ int) {
		o := &outlines[worker]
		o.on = g.surface
		p := line[i]
		found[i] = dips(width, grid, rows, func(heights []float64, from, f float64) {
			o.heights(heights, p.at.AddScaled(f, along[i]), side[i], p.out, from, grid)
		})
	})
	if err != nil {
		return
	}
	offset, level := choose(line, found, width, grid)
	for i := range line {
		line[i].found = level[i] == level[i]
	}
	bridge(level)
	for i := range line {
		line[i].at = line[i].at.AddScaled(offset[i], side[i])
		if level[i] == level[i] {
			line[i].at = line[i].at.AddScaled(level[i], line[i].out)
		}
	}
}

// smoothed takes the unrest of single places out with a moving parabola over
// seven places (Savitzky and Golay 1964), five or three near the ends, which are kept.
func smoothed(p []geom.Vec) []geom.Vec {
	out := slices.Clone(p)
	for i := 1; i+1 < len(p); i++ {
		w := [...][]float64{1: {0.25, 0.5, 0.25}, 2: {-3. / 35, 12. / 35, 17. / 35, 12. / 35, -3. / 35},
			3: {-2. / 21, 3. / 21, 6. / 21, 7. / 21, 6. / 21, 3. / 21, -2. / 21}}[min(3, i, len(p)-1-i)]
		out[i] = geom.Vec{}
		for k, x := range w {
			out[i] = out[i].AddScaled(x, p[i+k-len(w)/2])
		}
	}
	return out
}

func median(v []float64) float64 {
	s := slices.Clone(v)
	slices.Sort(s)
	if n := len(s); n%2 == 0 {
		return (s[n/2-1] + s[n/2]) / 2
	}
	return s[len(s)/2]
}
