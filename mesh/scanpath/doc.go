// Package scanpath makes a whole parcel van by formula and scans of it as a
// hand-held scanner brings them home: walked round the body stroke by stroke,
// drifting on the way, in one go or in pieces, with the truth of every point.
//
// # The body
//
// [Body] is 4.2 m long and 1.7 m wide, made up: two sides, front, rear and
// roof with windows, wheel arches, lamps, creases, ribs and shut lines (gaps of
// 4 mm, no hems; [shutline/mesh/bodywork] has those). Lengths are mm, angles
// radians. Vehicle axes: X rearward from the front, Y to the right from the
// middle, Z up from the ground. A point has a [Place]: on the wall, U mm round the
// body from the middle of the front over the left side, V mm up from the sill; on
// the roof, U along X and V along Y. [Body.At] gives point and outward normal.
//
// # The path
//
// The scanner goes up and down the wall in strokes half a metre apart ([Path]),
// on the sides over the roof to its middle and back, once round from the middle of the front to
// where it began: about 50 m. Every point is seen by the strokes whose field it
// lies in, mostly two, each at its own length s of the path; what they saw of one
// sheet is blended, as scanners do, and what is seen again after a long way
// is a second skin: where the last stroke lies over the first (at the front), and
// along the middle of the roof, reached from the left and from the right.
//
// # What is wrong with a scan
//
// A motion M(s) carries what is truly there into what is scanned at s; M is the
// chain of small motions about where the scanner was ([Drift]: a correlated
// random walk in six motions; [Creep]: a given motion that grows evenly along the path).
// [Options.LoopClosed] spreads the closing error along the path. [Shape] then twists, bends, scales and
// shears everything; noise, independent and shared by neighbours, moves points
// along the normal. Pieces ([Options.Pieces]) begin their own path at their own
// start, or at their middle and go each way, and lie in their own frames.
//
// # Truth
//
// [Piece.True] is where each vertex lies on the sheet metal, [Piece.Clean] where
// it would have been scanned without noise, [Scan.Carried] the same for any place,
// [Scan.Overlaps] and [Scan.Closings] the motions between pieces and between
// skins. [Scan.SheetMetal] and [Body] tell what is the metal's fault from what is the scan's.
//
// Everything is repeatable from the seed, byte for byte on any processor and
// with any number of threads.
package scanpath
