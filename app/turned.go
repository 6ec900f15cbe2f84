package app

import (
	"fmt"
	"slices"
	"strings"

	"shutline/app/inspection"
	"shutline/deviation/gapflush"
)

// noteTurned says that a traced path was turned round against its points as typed, where something was typed that tells its
// sides or its ends apart.
func noteTurned(i *inspection.Inspection, r *gapflush.Result) {
	for m, made := range i.Laid.Made.Seams {
		if !slices.Equal(made.Path, r.Seam.Path) {
			continue
		}
		typed := tellsApart(i.Laid.File, i.Laid.Of[m], r.Seam)
		if !i.Laid.Paths[m].Turned || len(typed) == 0 {
			return
		}
		r.Notes = append(r.Notes, fmt.Sprintf("The path was turned round, so that side A is the front or the upper panel: it begins at %s, by the last of the points as typed, and sides A and B are exchanged with those that one has walking along the points. What was typed (%s) holds for the sides and the start as they are now; where it was meant for the other ones, exchange the two values, A with B.",
			place(r.Seam.Path[0]), strings.Join(typed, ", ")))
		return
	}
}

// tellsApart lists the keys of seam k of a file that say something else of its sides or its ends when these change places.
func tellsApart(file *inspection.Inspection, k int, seam gapflush.Seam) (keys []string) {
	if seam.Radius[0] != seam.Radius[1] {
		keys = append(keys, "radius")
	}
	if seam.Edges[0] != seam.Edges[1] {
		keys = append(keys, "edges")
	}
	byDefault := slices.ContainsFunc(file.Defaulted, func(s string) bool { return strings.HasPrefix(s, fmt.Sprintf("seam[%d].master = ", k)) })
	if seam.Master != gapflush.A || file.Path != "" && !byDefault {
		keys = append(keys, "master")
	}
	if seam.Whole != "" {
		keys = append(keys, "stretch")
	}
	return keys
}
