// Package bvh holds the bounding-volume tree over a mesh's triangles: closest
// points, rays and box overlap.
//
// The tree only decides which triangles need not be looked at. Nodes have eight
// children and leaves eight triangles, stored in float32 and compared eight at a
// time; every comparison that leaves something out allows for the rounding (see
// Tree.error and kernelError). What may be the answer is computed in float64
// from the mesh's own vertices, and of equally close faces the one with the
// lowest index wins: an answer is a function of the mesh and the question
// alone, never of the tree's shape, of the processor, of earlier questions or
// of the number of threads.
package bvh
