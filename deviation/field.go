package deviation

import (
	"context"
	"errors"

	"shutline/mesh"
	"shutline/mesh/surface"
)

// State says whether a scan point has a deviation, or why not.
type State uint8

// The states; the first that applies, in this order after Measured.
const (
	Measured State = iota
	BeyondReach
	FacingAway
	OffEdge
	stateCount
)

// String returns the word used in files.
func (s State) String() string {
	return [...]string{"measured", "beyond-reach", "facing-away", "off-edge"}[s]
}

// Settings of a surface comparison; Reach in mm must be positive.
type Settings struct {
	Reach   float64
	Threads int
}

// Field is the deviation of every scan vertex, in the order of the mesh.
type Field struct {
	Deviation []float64 // mm; 0 where the state is not Measured
	State     []State
	Covered   float64  // share of the reference's area that has a scan face with a like normal within the reach
	Notes     []string // what a reader must know, such as "no normals: facing not tested"
}

// Measure compares a scan that has been carried into the reference's frame.
func Measure(ctx context.Context, placed *mesh.Mesh, ref *surface.Surface, s Settings, progress mesh.Progress) (*Field, error) {
	return nil, errors.New("deviation: not built yet")
}
