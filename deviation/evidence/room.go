package evidence

import "shutline/deviation/shade"

// The parts of a heat picture that its composition covers, in pixels at
// pictureScale: the title above, the figures and the ruler of colours at the
// right, the scale bar below.
const (
	roomLeft, roomTop, roomRight, roomBottom = 40, 130, 480, 110
)

// roomLabels is what a row of labels above the part and one below it take up.
const roomLabels = 54

// roomFor moves the camera back until the part stands clear of what the composition covers.
func roomFor(c shade.Camera, w, h int, labels bool) shade.Camera {
	if labels {
		return c.Inset(w, h, roomLeft, roomTop+roomLabels, roomRight, roomBottom+roomLabels)
	}
	return c.Inset(w, h, roomLeft, roomTop, roomRight, roomBottom)
}
