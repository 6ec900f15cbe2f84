package gapflush

import (
	"context"
	"math"
	"slices"

	"shutline/mesh"
)

// Where a scanner looks along a surface its noise is several times what it has square on: a roll's points scatter ever
// more toward its nose. A fit that believes all of them alike hangs on the worst, takes some for a web, and
// states less uncertainty than it has. So the noise is told for parts of a roll by the points of
// the whole seam, and points count by the inverse of its square (Aitken 1935).

// unevenParts is into how many parts, from firstArc to lastArc, a roll is parted for that: 15° each, over which the
// secant of a turn grows to twice at most before 75°.
const unevenParts = 6

const (
	// unevenFrom is by how many times a part's noise is more than the face's where it counts: of unevenLeast points that
	// scatter alike the estimate is out by a quarter at one standard deviation of three.
	unevenFrom  = 1.5
	unevenLeast = 40
	// unevenSeen is the noise, mm, up to which a part's scatter may be the mesh's own facets.
	unevenSeen = 0.03
)

// uneven is by how many times as much as on its face points scatter on each part of a roll; nil: alike.
type uneven [unevenParts]float64

// at returns it for an angle from the shoulder on, radians: on the line between the middles of two parts.
func (u *uneven) at(phi float64) float64 {
	if u == nil {
		return 1
	}
	place := float64((phi-firstArc)/(lastArc-firstArc)*unevenParts) - 0.5
	k := math.Floor(place)
	if k < 0 {
		return u[0]
	}
	if k >= unevenParts-1 {
		return u[unevenParts-1]
	}
	return u[int(k)] + float64((place-k)*(u[int(k)+1]-u[int(k)]))
}

// of returns it for the place of a point.
func (u *uneven) of(p *rollPlace) float64 {
	if u == nil {
		return 1
	}
	return u.at(p.phi())
}

// scattered is how far, mm, a station's points lie off a roll, part by part; negative inside it.
type scattered [unevenParts][]float64

// scatter gathers how far points lie off a roll that was fitted to them, those of a web among them.
func (g *rollFit) scatter(e *edge) (v scattered) {
	o := rollAt(g.face, e.s, e.r)
	for _, i := range g.pick(&o) {
		p := g.pts[i]
		p.off = false
		at, ok := g.counts(&o, &p)
		if !ok {
			continue
		}
		res := at.d - o.r
		if g.clear {
			res -= float64(at.ux * g.along.at(p.x))
		}
		k := min(int((at.phi()-firstArc)/(lastArc-firstArc)*unevenParts), unevenParts-1)
		v[k] = append(v[k], res)
	}
	return v
}

// poolUneven tells how unevenly the points of each side's rolls scatter, by what the stations show together.
func (j *job) poolUneven(first []raw, kn []known) (found bool) {
	for k := A; k <= B; k++ {
		u := unevenOf(first, kn, k, j.noise)
		if u == nil || kn[0].form[k] != Round {
			continue
		}
		found = true
		for i := range kn {
			kn[i].uneven[k] = u
		}
	}
	return found
}

// unevenOf is what a side's stations tell; nil where they tell no more than one noise. Only inward distances count, since webs
// and what lies in a gap are outside of a roll; and the lesser of those from the roll and from the middle of a
// station's own, since a hem that is not round has its points all to one side.
func unevenOf(first []raw, kn []known, k Side, noise float64) *uneven {
	var u uneven
	told, last := false, 1.0
	for part := range u {
		var off, about []float64
		stations := 0
		for i := range first {
			if !kn[i].weighed {
				continue
			}
			all := first[i].shows[k].scattered[part]
			if len(all) < few {
				continue
			}
			stations++
			middle := median(slices.Clone(all))
			more := math.Sqrt(float64(len(all)) / float64(len(all)-1))
			for _, v := range all {
				if v < 0 {
					off = append(off, -v)
				}
				if v < middle {
					about = append(about, float64(more*(middle-v)))
				}
			}
		}
		u[part] = last
		if stations < few || len(off) < unevenLeast || len(about) < unevenLeast {
			continue
		}
		sigma := min(robustSigma(off, 0), robustSigma(about, 0))
		last = max(sigma/noise, 1)
		u[part] = last
		told = told || last > unevenFrom && sigma > unevenSeen
	}
	if !told {
		return nil
	}
	return &u
}

// lookEvenly is a seam's first look at its stations, and where their rolls' points are seen to scatter unevenly a second that knows
// it; what they have in common of noise and curvatures is taken together.
func (j *job) lookEvenly(ctx context.Context, c *cutter, kn []known, progress mesh.Progress) ([]raw, error) {
	first, err := j.run(ctx, c, kn, nil, progress)
	if err != nil {
		return nil, err
	}
	laid := j.noteThinned(c, first, kn)
	before := slices.Clone(kn)
	j.pool(first, kn, laid)
	if !j.poolUneven(first, before) {
		return first, nil
	}
	copy(kn, before)
	for i := range kn {
		kn[i].noise = j.noise
	}
	if first, err = j.run(ctx, c, kn, nil, progress); err != nil {
		return nil, err
	}
	j.pool(first, kn, laid)
	return first, nil
}
