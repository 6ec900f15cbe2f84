// Package crosscut cuts a placed scan and its reference by one plane and compares
// the two curves: the deviation along the scan's curve, and read-outs where they are
// asked for, a radius at a place or the angle between two straight stretches.
//
// Lengths are mm, angles radians, in the reference's frame. The deviation is that of
// the surface, in space (package deviation), not of the curves in their plane: where
// the plane cuts the skin slantwise the two differ. Read-outs are of the curve in the plane: the radius of the arc, alone or
// between straights, that fits a stretch best, and the angle between the tangents at two places. A shape that is none of
// these has no value as soon as it can be told from noise; where it cannot, a radius is still that of the best arc, not the curve's at the place.
package crosscut
