package gapflush

// stateRemedies say what helps against a state, where its reason does not say it.
var stateRemedies = map[State]string{
	NoseUnseen:  "Scan slantwise into the gap from both sides.",
	SideMissing: "Scan the panel that is missing, or end the path where it ends.",
	Bridged:     "The scan was closed over the gap: make it again without filling holes, or scan closer.",
	TwoSkins:    "Take the second skin (an inner panel, a double pass, a reflection) out of the scan.",
	NoFace:      "Scan the faces just behind the edges.",
	TooCoarse:   "Scan finer: the points must lie closer than the edge's radius.",
	ThirdPanel:  "Shorten the face zone (face), or end the path before the third panel.",
	NotParallel: "End the path before the edges part.",
	OffPath:     "Bring the path's points back to the middle of the gap.",
}

// Remedy says what helps against a state where a station's reason does not say it; "" where nothing is wrong.
func (s State) Remedy() string { return stateRemedies[s] }
