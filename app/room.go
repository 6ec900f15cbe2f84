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

// What an inspection takes at its peak with the collector held to what is in use, bytes for each triangle of all meshes: measured by
// `make goals-memory`, 141 to 146 for opening a scan alone of 0.5 and 2 million, 155 and 148 for inspecting it beside its reference. A
// point of a cloud takes no less.
const perTriangle = 145

// What the window takes beside that for drawing them, bytes for each triangle of all meshes: it took 243 in all at its peak, by what
// the kernel tells of its process, opening and measuring the demo job of 2 million triangles beside a reference of 1 million, and
// ran out of memory where 237 were left.
const perDrawn = 100

// held is what a mesh that was read takes while the next one is, bytes for each triangle: its corners and half a vertex.
const held = 24

// Need returns how many triangles or points files hold, told by their heads and sizes, and the memory, bytes, without which they
// are not inspected: the most of what reading one of them takes beside those that were read before, and what all take then.
// Where a file tells nothing of itself it counts for nothing.
func Need(files ...string) (things int, bytes int64) { return need(perTriangle, files) }

// need is Need with what a triangle takes at the peak.
func need(each int64, files []string) (things int, bytes int64) {
	before, all, most := int64(0), int64(0), int64(0)
	for _, f := range files {
		e := meshio.Expect(f)
		things += e.Faces + e.Points
		most = max(most, before+e.Memory)
		before += int64(e.Faces+e.Points) * held
		all += int64(e.Faces+e.Points) * each
	}
	return things, max(most, all)
}

// room returns the memory that is left; for tests.
var room = pages.Left

// NeedRoom refuses meshes that plainly do not fit into the memory that is left, as far as their files' sizes and the system tell:
// running out of it would end the program. The error is an [InputError] with the largest file.
func NeedRoom(files ...string) error { return needRoom(perTriangle, files) }

// needRoom is NeedRoom with what a triangle takes at the peak.
func needRoom(each int64, files []string) error {
	things, bytes := need(each, files)
	left, ok := room()
	if ok && bytes > left.Bytes {
		debug.FreeOSMemory() // what is in use no more counts as left
		left, ok = room()
	}
	if !ok || bytes <= left.Bytes {
		pages.Tighten()
		return nil
	}
	needed, there := amounts(bytes, left.Bytes)
	millions := float64(things) / 1e6
	largest, most := "", int64(-1)
	for _, f := range files {
		if _, n := need(each, []string{f}); n > most {
			most, largest = n, f
		}
	}
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

// amounts writes what is needed and what is there, finely enough that they differ.
func amounts(need, left int64) (needed, there string) {
	needed, there = fmt.Sprintf("%.1f GB", float64(need)/1e9), fmt.Sprintf("%.1f GB", float64(left)/1e9)
	if need < 1e9 || needed == there {
		const mega = 1_000_000
		needed, there = fmt.Sprintf("%d MB", (need+mega-1)/mega), fmt.Sprintf("%d MB", left/mega)
	}
	return needed, there
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
