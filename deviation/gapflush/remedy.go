package gapflush

import "strings"

// What to do about a station without a gap, where its reason tells more than its state does. Such a sentence stands at
// the end of [Station.Why], see [Station.Reason].
const (
	doScanThere   = "Scan it there."
	doScanPanel   = "Scan that panel, or end the path where it ends."
	doCentre      = "Bring the points of the path to the middle of the gap (path), or write two of them and trace = true."
	doFitWindow   = "Give a shorter zone (face) or a wider window (window)."
	doShortenZone = "Scan the face there; only where the panel itself is narrower than that, give a shorter zone (face)."
	doShorten     = "Give a shorter zone (face), as [2.5, 12.5] is."
	doPoints      = "Scan finer, or give a wider zone (face) or band (band)."
	doOneWay      = "Draw it one way."
	doEndBefore   = "End it before."
	doOrder       = "Put these points of the path in their order (path)."
	doTurnFaces   = "Turn the scan's faces round (its winding) in the program that made it."
	doTurnPanel   = "Turn that panel's faces round (their winding) in the program that made the scan."
	doBeforeThird = "End the path before the third panel, and begin another seam there."
	doAlong       = "Draw it along the surface (path)."
	doJoinPasses  = "Join the passes again, or cut one of them away where they overlap."
	doGiveRadius  = "Type the hem's radius (radius), or scan finer."
	doWall        = "Measure there with a gauge; the flush is known."
	doUnthinned   = "Export the scan without thinning it, or give a wider zone (face) or band (band)."
)

var remedies = []string{doScanThere, doScanPanel, doCentre, doFitWindow, doShortenZone, doShorten, doPoints, doOneWay, doEndBefore, doOrder, doTurnFaces, doTurnPanel, doBeforeThird, doAlong, doJoinPasses, doGiveRadius, doWall, doUnthinned}

// with joins a reason and what to do, which are told each for itself.
func with(why, do string) string { return why + " " + do }

// Reason parts why a station has no gap from what to do about it; do is "" where the state alone tells that.
func (s *Station) Reason() (why, do string) {
	for _, r := range remedies {
		if before, ok := strings.CutSuffix(s.Why, r); ok {
			return strings.TrimSpace(before), r
		}
	}
	return s.Why, ""
}
