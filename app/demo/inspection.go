package demo

import (
	"fmt"
	"io"
	"strings"

	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
)

// writeInspection writes the inspection file of a job.
func writeInspection(w io.Writer, job *bodywork.Job) error {
	var b strings.Builder
	fmt.Fprintf(&b, `# Left side of a made-up parcel van after its wing was replaced.
title = "Parcel van, left side, replacement wing"

[scan]
file = "%s"
units = "mm"
noise = %g          # mm, one standard deviation

[reference]
file = "%s"
units = "mm"

[place]
method = "best-fit"

[surface]
reach = 10.0          # mm
tolerance = [-0.5, 0.5]
share = 0.95
views = ["left", "three-quarter"]
`, ScanFile, job.Options.Noise, ReferenceFile)
	for _, s := range job.Seams {
		fmt.Fprintf(&b, "\n[[seam]]\nname = %q\npath = [   # mm, upward along the middle of the gap as drawn\n", s.Name)
		for _, p := range s.Path {
			fmt.Fprintf(&b, "    %s,\n", point(p))
		}
		fmt.Fprintf(&b, `]
every = %.1f
edges = ["round", "round"]
radius = [%.1f, %.1f]
master = "%c"
gap   = { nominal = %.1f, tolerance = [-1.0, 1.0] }
flush = { nominal = 0.0, tolerance = [-0.75, 0.75] }
taper = { tolerance = [-0.2, 0.2] }    # mm per 100 mm
pictures = "worst"
`, bodywork.StationEvery, s.Radius[0], s.Radius[1], 'A'+rune(s.Master), s.Gap)
	}
	for _, l := range job.Lengths {
		fmt.Fprintf(&b, `
[[length]]
name = %q
from = %s
to = %s
known = %.1f
known_uncertainty = 0.02
allowed = { a = 0.1, per_metre = 0.1 }
`, l.Name, point(l.From), point(l.To), l.Known)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// point writes the coordinates with as many digits as seam paths have.
func point(p geom.Vec) string { return fmt.Sprintf("[%.2f, %.2f, %.2f]", p.X, p.Y, p.Z) }
