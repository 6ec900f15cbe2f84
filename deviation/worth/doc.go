// Package worth says what a scan is good for: how its uncertainty grows with
// length, from whatever told something about it, and what follows for gaps, for the shape of
// a panel and for overall dimensions.
//
// The uncertainty of a length L is A + B·L, expanded (k = 2 or as few tellers ask for), in mm and mm per
// metre, the form in which scanners are specified (A + L/K with K = 1000/B). A is what two places close together are
// off by, the noise; B is what the scan's drift and scale add. On a body that the scanner goes round it grows up to a length of
// [Growth.Span], the body's width, and not beyond: two places on opposite sides are as far apart along the path as any. On simulated
// scans of a van 4.2 m long and 1.7 m wide, widths are off by as much as lengths are.
//
// Each teller, a known length, a closure, an overlap, a drift, is one draw of an error that
// grows with length; few draws say little of what the next may be, so B follows Student's t: of one draw it is 12.7
// times that. Where nothing tells there is no value, and why is said.
package worth
