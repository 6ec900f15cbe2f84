// Package bvh holds the bounding-volume tree over a mesh's triangles: closest
// points, rays and box overlap.
//
// The tree only decides which triangles need not be looked at. Its boxes are
// float32, rounded outward, and every comparison that leaves something out
// allows for the rounding (see slack). What is looked at is computed in float64
// from the mesh's own vertices, and of equally close faces the one with the
// lowest index wins: an answer is a function of the mesh and the question
// alone, never of the tree's shape, of earlier questions or of the number of
// threads.
package bvh
