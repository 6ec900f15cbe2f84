package app

import (
	"fmt"
	"path/filepath"
	"runtime/debug"
	"slices"
	"strings"

	"shutline/app/inspection"
	"shutline/mesh/meshio"
	"shutline/mesh/pages"
)

// leastPerTriangle is the memory, bytes, that a triangle of a mesh takes at the least. Whole inspections of 1.5 and 6 million took 190 and 150
// with the collector held to what is in use, 470 and 270 at its usual pace; reading and examining 4 million took 147.
const leastPerTriangle = 130

// room returns the memory that is left; for tests.
var room = pages.Left

// NeedRoom refuses meshes that plainly do not fit into the memory that is left, as far as their files' sizes and the system tell:
// running out of it would end the program. The error is an [InputError] with the largest file.
func NeedRoom(files ...string) error {
	triangles, most, largest := 0, 0, ""
	for _, f := range files {
		n := meshio.Least(f)
		triangles += n
		if n > most {
			most, largest = n, f
		}
	}
	need := int64(triangles) * leastPerTriangle
	left, ok := room()
	if ok && need > left.Bytes {
		debug.FreeOSMemory() // what is in use no more counts as left
		left, ok = room()
	}
	if !ok || need <= left.Bytes {
		pages.Tighten()
		return nil
	}
	needed, there := fmt.Sprintf("%.1f GB", float64(need)/1e9), fmt.Sprintf("%.1f GB", float64(left.Bytes)/1e9)
	millions := float64(triangles) / 1e6
	if len(files) == 1 {
		return &InputError{Path: largest, Problem: fmt.Sprintf("it holds some %.1f million faces or points, which need at least %s of memory; %s leaves %s. Thin the mesh out, close other programs, or use a machine with more memory", millions, needed, left.Of, there)}
	}
	rest := slices.Clone(files)
	k := slices.Index(rest, largest)
	var names []string
	for _, f := range slices.Delete(rest, k, k+1) {
		names = append(names, filepath.Base(f))
	}
	return &InputError{Path: largest, Problem: fmt.Sprintf("together with %s it holds some %.1f million faces or points, which need at least %s of memory; %s leaves %s. Thin the meshes out, close other programs, or use a machine with more memory",
		strings.Join(names, " and "), millions, needed, left.Of, there)}
}

// meshFiles lists the meshes that an inspection reads.
func meshFiles(i *inspection.Inspection) (list []string) {
	if len(i.Pieces) == 0 {
		list = append(list, i.Scan.File)
	}
	for _, p := range i.Pieces {
		list = append(list, p.File)
	}
	if i.Reference != nil {
		list = append(list, i.Reference.File)
	}
	return list
}
