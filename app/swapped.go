package app

import (
	"fmt"
	"path/filepath"

	"shutline/app/inspection"
	"shutline/mesh/meshio"
)

// Swapped says which of the meshes is another file than the one that the
// inspection was saved with, as far as it says which that was.
func Swapped(i *inspection.Inspection, parts *Parts) []string {
	var out []string
	look := func(who string, l *meshio.Loaded, sum string) {
		const short = 12
		if l != nil && sum != "" && l.SHA256 != sum {
			out = append(out, fmt.Sprintf("%s: %s is another file than the one this job was saved with (SHA-256 %.*s… instead of %.*s…): all results are of the file as it is now",
				who, filepath.Base(l.Path), short, l.SHA256, short, sum))
		}
	}
	look("scan", parts.Scan, i.Scan.SHA256)
	if parts.Joined != nil {
		for k, f := range i.Pieces {
			look("piece", parts.Joined.Files[k], f.SHA256)
		}
	}
	if i.Reference != nil {
		look("reference", parts.Reference, i.Reference.SHA256)
	}
	return out
}
