// Package bvh holds the bounding-volume tree over a mesh's triangles:
// closest points, rays and box overlap.
package bvh
