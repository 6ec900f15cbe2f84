// Package meshio reads mesh files: STL (binary and text), PLY (text, binary
// little-endian and big-endian, with or without faces), OBJ and GLB (glTF 2.0
// binary). It writes binary STL and PLY.
//
// # What a reader promises
//
// A file is read whole or not at all: a file that ends early, a count that does
// not fit the file's size and an index out of range are a [FormatError], never
// a short mesh. What is left out on purpose is counted in [Loaded] and said by
// [Loaded.Notices]. No file makes a reader panic, and memory follows the bytes
// that were read, never a number written in a header.
//
// # Vertices
//
// Corners whose three coordinates are exactly equal (-0 equals +0) become one
// vertex. Vertices are numbered from 0 in order of first appearance: in STL in
// the order of the corners of the faces that are kept; in PLY, OBJ and GLB, which
// have lists of vertices, in the order of those lists (GLB: of the scene's tree), so that the order of the
// file stays whatever the faces refer to. A mesh with faces keeps only vertices
// that a kept face uses; the others are counted. A file without faces is a
// point cloud and keeps every finite point, and the normals the file gives.
//
// # Faces
//
// Faces with a corner that is not finite are dropped, and so are faces of no
// area: those whose cross product of two sides, computed in float64 from the
// file's coordinates, is exactly zero. Polygons are cut into triangles first.
//
// # Units
//
// Only GLB states a unit, the metre. Else it comes from [Options], or is judged
// from the size of the bounding box (see [Options.Beside] and [UnitError]), and
// coordinates are multiplied once, on the way to the mesh; [Loaded] says by what.
//
// # Colours
//
// Vertex colours are carried as 8-bit sRGB: red, green, blue of PLY, the three
// numbers after a vertex of OBJ, COLOR_0 of GLB (linear there). They are left out
// where not every vertex has one.
//
// # Cost
//
// Results are the same for any number of threads. Binary STL is read in blocks:
// one core reads, hashes (SHA-256) and welds 10 to 15 million triangles a second, two
// 20 to 25 million; without the hash, two weld 35 million. The most memory in use is 1.3
// to 1.6 times that of the finished mesh. Binary PLY and GLB take about 10 million
// triangles a second, text formats 2 to 5 million.
package meshio
