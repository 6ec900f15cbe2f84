package bench

import "shutline/deviation/verdict"

// Stage is a step of the work.
type Stage int

// The stages.
const (
	Parts Stage = iota
	Place
	Surface
	Trust
	Seams
	Evidence
	stageCount
)

// Stages lists every stage in the order the user's work is done. The bench does
// them in the order of their numbers: what the scan can be trusted with is told by its
// drift, so the surface comes before.
func Stages() []Stage { return []Stage{Parts, Trust, Place, Surface, Seams, Evidence} }

// String returns the word that the stage has in traces and in a run's record.
func (s Stage) String() string {
	return [...]string{"parts", "place", "surface", "trust", "seams", "evidence"}[s]
}

// Lamp is what a stage's lamp shows.
type Lamp int

// The lamps.
const (
	NotDone Lamp = iota // ring
	Working             // ring with a running part
	Done                // dot: done, and nothing was asked of it
	Good                // tick
	Bad                 // cross
	Open                // question mark: undecided
	Stale               // triangle: belongs to an earlier state of the job
	Failed              // bar: could not be done
)

// String returns the lamp's word in traces.
func (l Lamp) String() string {
	return [...]string{"not done", "working", "done", "conforms", "does not conform", "undecided", "stale", "failed"}[l]
}

// lampOf returns the lamp of a verdict; a stage that was not judged is done.
func lampOf(v verdict.Verdict) Lamp {
	return [...]Lamp{verdict.NotJudged: Done, verdict.Conforms: Good, verdict.Undecided: Open, verdict.DoesNotConform: Bad}[v]
}

// status is how far a stage got.
type status struct {
	done  bool
	stale bool
	err   error
}
