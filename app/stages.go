package app

import (
	"context"
	"fmt"
	"math"

	"shutline/app/inspection"
	"shutline/deviation"
	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
)

// Compare measures the surface deviation, draws its figures and judges it where a share is wanted.
func Compare(ctx context.Context, i *inspection.Inspection, parts *Parts, placed *Placed, s Settings, p Progress) (*Compared, error) {
	if parts.Surface == nil {
		return nil, &InputError{Path: i.Scan.File, Problem: "the surface can only be compared beside a reference; add [reference] to the inspection"}
	}
	field, err := deviation.Measure(ctx, placed.Mesh, parts.Surface, deviation.Settings{
		Reach: i.Surface.Reach, Normals: placed.Normals, Threads: s.Threads, Doubts: true, Placing: placing(placed.Placement), Measured: s.Measured,
	}, p.part("comparing the surface", 0, 0.8))
	if err != nil {
		return nil, err
	}
	c := &Compared{Field: field, Ambiguous: placed.Placement.Ambiguous}
	for _, step := range []func(){
		func() { c.expand(i, parts, placed, s.Threads) },
		func() { c.Summary = deviation.Summarise(field, parts.ScanAreas, i.Surface.Tolerance) },
		func() { c.hintNoise(i, parts.Scan.Mesh.Faces) },
		func() { c.judge(i, parts) },
	} {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		step()
	}
	if err = c.explainDrift(ctx, i, parts, placed, s, p.part("looking for drift", 0.8, 0.9)); err != nil {
		return nil, err
	}
	c.Clusters, err = deviation.FindClusters(ctx, placed.Mesh, parts.ScanAreas, field, i.Surface.Tolerance, s.Threads)
	if err != nil {
		return nil, err
	}
	for _, spec := range i.Points {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		c.Points = append(c.Points, pointOf(spec, field, parts, placed, deviation.Settings{Reach: i.Surface.Reach, Threads: s.Threads}))
	}
	if placed.PairsOff {
		c.Field.Notes = append(c.Field.Notes, "the pairs contradict the surface or one another, as said of the placement: nothing of the surface is decided")
	}
	if c.Ambiguous || placed.PairsOff {
		c.leaveOpen()
	}
	return c, ctx.Err()
}

// leaveOpen makes undecided what was judged: it may be of another place of the reference.
func (c *Compared) leaveOpen() {
	c.Verdict = verdict.Opened(c.Verdict)
	for k := range c.Clusters.List {
		c.Clusters.List[k].Verdict = verdict.Undecided
	}
	for k := range c.Points {
		c.Points[k].Verdict = verdict.Opened(c.Points[k].Verdict)
	}
}

// pointOf measures and judges a named point; one without a value is undecided.
func pointOf(spec inspection.Point, f *deviation.Field, parts *Parts, placed *Placed, s deviation.Settings) Point {
	spec.Radius = radiusOf(spec, parts)
	p := Point{Spec: spec, Spot: deviation.MeasureSpot(f, placed.Mesh, placed.Normals, parts.Surface, s, spec.At, spec.Radius)}
	if spec.HasTolerance {
		p.Verdict = verdict.Decide(p.Spot.Value, spec.Tolerance)
	}
	return p
}

// expand gives the deviations their uncertainty, where the scanner's noise is stated or can be estimated.
func (c *Compared) expand(i *inspection.Inspection, parts *Parts, placed *Placed, threads int) {
	noise := i.Scan.Noise
	if noise == 0 {
		if len(parts.Scan.Mesh.Faces) == 0 {
			c.Field.Notes = append(c.Field.Notes, "the scan has no faces, by which its noise could be estimated: the deviations have no uncertainty and the share is not judged; state the noise of the scanner as noise in [scan]")
			return
		}
		noise = estimatedNoise(c.Field, parts.Scan.Mesh.Faces, placed.Mesh.Vertices)
	}
	if len(parts.Scan.Mesh.Faces) > 0 {
		noise = believed(noise, fieldNoise(c.Field, parts.Scan.Mesh.Faces))
	}
	c.Field.Expand(noise, threads)
}

// judge compares the share in tolerance with the wanted one. The guard band is
// each point's U: the share must be reached by the points that lie in the tolerance by at least U to
// conform, and missed by those that do not lie outside it by U not to. A point without a U is
// neither. A scan that leaves more than a tenth of its points unmeasured, or more
// than half of the reference uncovered, is undecided at best.
func (c *Compared) judge(i *inspection.Inspection, parts *Parts) {
	if !i.Surface.HasShare {
		return
	}
	c.Verdict = verdict.Undecided
	if c.Field.U == nil {
		return
	}
	surely, perhaps := sharesWithin(c.Field, parts.ScanAreas, i.Surface.Tolerance)
	total := 0
	for _, n := range c.Summary.Count {
		total += n
	}
	const mostUnmeasured = 0.1
	enough := float64(total-c.Summary.Count[deviation.Measured]) <= mostUnmeasured*float64(total)
	// What was not scanned cannot conform. Where the line lies is our choice.
	const leastCovered = 0.5
	if c.Field.Covered < leastCovered {
		enough = false
		c.Field.Notes = append(c.Field.Notes, fmt.Sprintf(
			"the scan covers %.2g %% of the reference: the surface is undecided at best; scan more of the part, or cut the reference down to what was scanned",
			100*c.Field.Covered))
	}
	switch {
	case !surely.OK:
	case perhaps.V < i.Surface.Share:
		c.Verdict = verdict.DoesNotConform
	case surely.V >= i.Surface.Share && enough:
		c.Verdict = verdict.Conforms
	}
}

// sharesWithin returns the shares of the measured points that surely lie in a
// tolerance and that perhaps do, by weight; nil counts every point once.
func sharesWithin(f *deviation.Field, weight []float64, t verdict.Tolerance) (surely, perhaps verdict.Value) {
	in, maybe, all := 0.0, 0.0, 0.0
	for k, state := range f.State {
		if state != deviation.Measured {
			continue
		}
		w := 1.0
		if weight != nil {
			w = weight[k]
		}
		all += w
		d, u := f.Deviation[k], f.U[k]
		switch {
		case u == deviation.NoU, d >= t.Lo-u && d <= t.Hi+u:
			maybe += w
			if u != deviation.NoU && d >= t.Lo+u && d <= t.Hi-u {
				in += w
			}
		}
	}
	all = max(all, math.SmallestNonzeroFloat64)
	known := all > math.SmallestNonzeroFloat64
	return verdict.Value{V: in / all, OK: known}, verdict.Value{V: maybe / all, OK: known}
}

// MeasureSeam measures one seam. One that could not be traced or found, or whose path, once it was, cannot be measured along with
// the settings it has, has no value, see [gapflush.NotMeasured]. A scan without faces gives an [InputError].
func MeasureSeam(ctx context.Context, i *inspection.Inspection, seam gapflush.Seam, parts *Parts, placed *Placed, s Settings, p Progress) (*gapflush.Result, error) {
	if err := needFaces(i, parts); err != nil {
		return nil, err
	}
	laid, wasLaid := laidAs(i, seam)
	if laid.Why != "" {
		return gapflush.NotMeasured(seam, laid.Why), nil
	}
	if key, why := saysNothing(seam); why != "" && wasLaid {
		return gapflush.NotMeasured(seam, key+": "+why), nil
	} else if why != "" {
		return nil, badSeam(i, seam, key, why)
	}
	r, err := gapflush.Measure(ctx, placed.Mesh, parts.Mirrored, seam, gapflush.Settings{
		Noise:          i.Scan.Noise,
		ScalePPM:       s.ScalePPM,
		HasTemperature: i.Scan.HasTemperature,
		Temperature:    i.Scan.Temperature,
		Expansion:      i.Scan.Expansion,
		Scanned:        i.Reference != nil && i.Reference.Scanned,
		Threads:        s.Threads,
		Typed:          typedPoints(i, seam),
	}, p.part("measuring "+seam.Name, 0, 1))
	if err != nil && ctx.Err() == nil {
		return nil, fmt.Errorf("app: seam %q: %w", seam.Name, err)
	}
	if err == nil && parts.Mirrored != nil && i.Reference != nil && i.Reference.Scanned {
		err = scannedNominals(ctx, r, parts.Mirrored, s)
	}
	switch {
	case err != nil:
	case wasLaid:
		noteTurned(i, r)
	default:
		err = layerOf(i, parts, placed, s).noteFarPoints(ctx, r)
	}
	if err == nil && placed.Placement.Ambiguous {
		r.LeaveOpen()
		r.Notes = append(r.Notes, "The placement, which told where to cut, is ambiguous: this may be another place of the scan, and nothing is decided.")
	}
	return r, err
}

// needFaces refuses a scan of points alone for what is cut across a surface.
func needFaces(i *inspection.Inspection, parts *Parts) error {
	if len(parts.Scan.Mesh.Faces) > 0 {
		return nil
	}
	return &InputError{Path: i.Scan.File, Problem: "the scan has points but no faces, so no gap or flush can be measured; export it as triangles or leave the seams out"}
}
