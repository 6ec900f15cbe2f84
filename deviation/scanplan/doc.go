// Package scanplan plans the next scan: from how an error grew along the scanner's path
// so far it predicts the error at the far end of a part, and finds the simplest way of scanning
// that meets a wanted accuracy.
//
// A scanner that joins each view to the last adds up small errors. Position noise alone makes the error
// grow with the square root of the path, angle noise with its power of 1.5 ([Chain]); what a
// scanner does lies between, so an error grows as c·s^p with p from 0.5 to 1.5, fitted to what was
// seen ([Fit]). All errors are standard ones or root mean squares, lengths mm.
//
// What closing the loop leaves, and how many strokes a part takes, are common practice of scanners
// held by hand; no source was found in print. The simulated scanners of [shutline/mesh/scanpath] agree.
package scanplan
