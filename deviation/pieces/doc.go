// Package pieces lays overlapping scans of one body together: it finds where they overlap,
// tells whether they have the same shape there, moves all of them at once so that the error
// is spread by its uncertainty, and makes one mesh of them.
//
// An overlap is two pieces laid on one another by the best rigid motion for the overlap
// alone. What is left is compared with what the noise of the two explains: more than that
// is different shape, which no rigid motion mends. The motions of all pieces come from one
// least squares over the graph of overlaps and markers, each with its covariance (Lu & Milios,
// "Globally consistent range scan alignment for environment mapping", Autonomous Robots 4,
// 1997; Pulli, "Multiview registration for large data sets", 3DIM 1999); cycles that do not
// close within their uncertainty are named.
//
// Lengths are mm, angles radians. The joined frame is that of the reference or, without
// one, of the first piece, which stays where it is. Signs: the residual of an overlap is
// positive where the first piece of the two stands proud of the second.
package pieces
