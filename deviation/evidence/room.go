package evidence

import "shutline/deviation/shade"

// The parts of a heat picture that its composition covers, in pixels at
// pictureScale: the title above, the figures and the ruler of colours at the
// right, the scale bar below.
const (
	roomLeft, roomTop, roomRight, roomBottom = 40, 130, 480, 110
)

// roomFor moves the camera back until the part stands clear of what the composition covers.
func roomFor(c shade.Camera, w, h int) shade.Camera {
	return c.Inset(w, h, roomLeft, roomTop, roomRight, roomBottom)
}
