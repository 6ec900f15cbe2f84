package app

import (
	"context"
	"fmt"

	"shutline/app/inspection"
	"shutline/deviation/gapflush"
	"shutline/deviation/seamfind"
	"shutline/mesh/geom"
)

// FindSeams proposes the shut lines along which no seam of the inspection runs,
// front to rear, each under a name of its own. They are looked for on the reference, without one on
// the scan, and given in the reference's frame. Doubtful ones are among them; none
// at all is no error. The error is an [InputError] for a scan without faces, or the context's.
func FindSeams(ctx context.Context, i *inspection.Inspection, parts *Parts, placed *Placed, s Settings, p Progress) ([]SeamPath, error) {
	if err := needFaces(i, parts); err != nil {
		return nil, err
	}
	l := layerOf(i, parts, placed, s)
	if err := l.makeGround(ctx, p.part("looking for seams", 0, 0.1)); err != nil {
		return nil, err
	}
	found, err := l.ground.Find(ctx, seamfind.Settings{Drawn: l.drawn(), OwnAxes: i.OwnFrame(), Threads: s.Threads}, p.part("looking for seams", 0.1, 1))
	if err != nil {
		return nil, err
	}
	taken := map[string]bool{}
	var there [][]geom.Vec
	for _, seam := range i.Seams {
		taken[seam.Name] = true
		if len(seam.Path) > 1 {
			there = append(there, seam.Path)
		}
	}
	var out []SeamPath
	for n := range found {
		f := &found[n]
		if seamfind.Beside(f.Path, there) >= 0 {
			continue
		}
		name := f.Name
		for m := 2; taken[name]; m++ {
			name = fmt.Sprintf("%s (%d)", f.Name, m)
		}
		taken[name] = true
		path := l.laid(name, inspection.Found, f.Course)
		if path.Length/gapflush.DefaultSeam(name, path.Path).Every > inspection.MostStations {
			continue
		}
		path.Sure, path.SureWord = f.Sure, f.SureWord()
		out = append(out, path)
	}
	return out, ctx.Err()
}
