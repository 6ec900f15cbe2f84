package inspection

import (
	"weak"

	"shutline/mesh"
	"shutline/mesh/geom"
)

// LaidPath is a seam's path and how it came about.
type LaidPath struct {
	Seam   string
	Laying Laying
	Path   []geom.Vec // mm, as measured on
	Length float64    // mm
	// Of traced and found paths:
	Seen     float64 // share of the path on which the gap was seen, 0 to 1
	Width    float64 // mm, mean from nose to nose where it was seen; an estimate
	HasWidth bool
	Sure     float64 // 0 to 1, of found ones: how much speaks for a shut line
	SureWord string  // "sure", "likely" or "doubtful"
	Turned   bool    // of traced ones: it runs from the last point that was typed to the first
	// Why there is no path to measure along, and what to change: a part of a sentence, without the seam's name. "": there is
	// one. Path is then as it was typed.
	Why string
}

// Laid tells what the seams of an inspection are in its file where some are traced, found or have stretches, and so
// are measured as other ones. Nothing in it changes once it is made.
type Laid struct {
	File  *Inspection // as the file has the seams
	Made  *Inspection // with the seams that are measured
	Of    []int       // of each seam of Made, the one of File
	Paths []LaidPath  // of each seam of Made
	Whole []LaidPath  // of each seam of File, before its stretches part it; without points for one to be found
	Lines []FoundLine // that a search has seen
	On    weak.Pointer[mesh.Mesh]
}

// FoundLine is a shut line that a search has seen, under the name that its seam takes where that is free.
type FoundLine struct {
	Name  string
	Path  []geom.Vec // mm
	There bool       // another seam runs along it
}
