// Package drift explains a deviation field by the few shapes that a drifting
// scanner makes: a scale along each axis, a bend in two planes, a twist and
// shears about the part's long axis.
//
// A scanner that joins each view to the last adds up small errors of position
// and angle. What that does to a part is smooth and reaches over the whole of it:
// it is a few long-wave displacements in three dimensions. They are seen through the
// surface's normals, and fitted together with the six rigid motions, since
// the placement has already taken away as much of them as a motion can.
//
// Frame: the reference's, mm. The shapes stand about the centre of the part's area
// and its principal axes, the long one first. Sign: positive displacements move the
// scan the way the term says, see [Kind].
//
// What a shape explains is more likely the scan than the sheet metal, but a part that
// is truly bent looks the same: only a known length or a second scan by another
// route tells them apart. Nothing here changes a result; [Result.Undo] serves a
// what-if view that is marked as such.
//
// The cost is that of some 240,000 to 480,000 closest-point questions and of some 130 to 210
// Cholesky factors of a matrix of at most 450 rows, and of some thousand of at most 300, whatever the size of the scan.
package drift
