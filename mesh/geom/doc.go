// Package geom holds the small geometry every other package stands on:
// vectors, boxes, rigid motions and the closest point of a triangle.
//
// Lengths are in millimetres and angles in radians; frames are right-handed.
// Every product inside a sum is written float64(a*b), so that no compiler
// fuses it with the addition and results have the same bits on every processor.
package geom
