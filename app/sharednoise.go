package app

import (
	"math"
	"slices"

	"shutline/deviation"
	"shutline/mesh/geom"
)

const (
	// noiseLag is how far apart, in mm, points are looked at for noise that neighbours share:
	// scanners were measured to share it over 4 to 8.
	noiseLag = 12.0
	// lagSlack is how far from its place a point may be taken, as a share of the lag.
	lagSlack = 0.25
	// lagSamples are looked from; their median is good to 2 %.
	lagSamples = 4000
	// fewestLags are needed for a median that means something.
	fewestLags = 200
)

// sharedNoise estimates the noise of one scan point, one standard deviation in mm, with what it
// shares with its neighbours: how far the deviation at a point lies from the mean of
// those at two points 12 mm to either side of it. Slopes of the part's own deviation drop out of that, and the
// median leaves dents and edges out. Three points that share nothing differ so by √1.5 of one's noise. It
// is 0 where too few points have such neighbours.
func sharedNoise(f *deviation.Field, points []geom.Vec) float64 {
	cells := map[[3]int32][]uint32{}
	const cell = noiseLag / 2
	key := func(p geom.Vec) [3]int32 {
		return [3]int32{int32(math.Floor(p.X / cell)), int32(math.Floor(p.Y / cell)), int32(math.Floor(p.Z / cell))}
	}
	var measured []uint32
	for i, s := range f.State {
		if s == deviation.Measured {
			measured = append(measured, uint32(i))
		}
	}
	// Of a dense scan so many points are enough to find one near each place.
	step := 1
	if len(measured) > 1<<20 {
		step = len(measured) >> 20
	}
	for k := 0; k < len(measured); k += step {
		at := key(points[measured[k]])
		cells[at] = append(cells[at], measured[k])
	}
	nearest := func(p geom.Vec) (uint32, bool) {
		best, found, d2 := uint32(0), false, float64(lagSlack*noiseLag*lagSlack*noiseLag)
		at := key(p)
		for x := at[0] - 1; x <= at[0]+1; x++ {
			for y := at[1] - 1; y <= at[1]+1; y++ {
				for z := at[2] - 1; z <= at[2]+1; z++ {
					for _, i := range cells[[3]int32{x, y, z}] {
						if d := points[i].Sub(p).Norm2(); d < d2 {
							best, found, d2 = i, true, d
						}
					}
				}
			}
		}
		return best, found
	}
	directions := [3]geom.Vec{{X: 1}, {Y: 1}, {Z: 1}}
	var off []float64
	for k, n := 0, 0; k < len(measured); k, n = k+len(measured)/lagSamples+1, n+1 {
		i := measured[k]
		way := directions[n%len(directions)].Scale(noiseLag)
		a, okA := nearest(points[i].Add(way))
		b, okB := nearest(points[i].Sub(way))
		if okA && okB {
			off = append(off, math.Abs(f.Deviation[i]-float64((f.Deviation[a]+f.Deviation[b])/2)))
		}
	}
	if len(off) < fewestLags {
		return 0
	}
	slices.Sort(off)
	return off[len(off)/2] / normalMedian / math.Sqrt(1.5)
}

// estimatedNoise estimates the noise of one scan point from a comparison, one standard deviation in mm, with what
// it shares with its neighbours.
func estimatedNoise(f *deviation.Field, faces [][3]uint32, points []geom.Vec) float64 {
	return max(fieldNoise(f, faces), sharedNoise(f, points))
}
