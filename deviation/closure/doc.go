// Package closure finds where a scan runs over itself, as it does where a pass of the
// scanner comes back over its own start, and measures what the two skins are apart.
//
// # What is found
//
// From the middle of each face the mesh is looked at along the face's normal, both ways. Where the next
// skin met faces the same way, with nothing between, the surface lies there twice. Sheet
// metal does not: an inner skin or a hem's return faces the other way, and so does
// something behind a panel as long as that panel has a back. What is narrower than
// [LeastWidth] or smaller than [LeastArea] is left out: flanges seen through a gap, folds at a border, floating bits.
// A scan whose passes were merged into one skin shows nothing of this here.
//
// # What is measured
//
// The step is the signed distance of the end's skin from the start's, along the start's
// normal, positive where the end stands proud, in patches of [PatchSide]. The motion carries the end's skin onto the
// start's (point to plane, robust, package align). Which of the two was scanned first a mesh does not say:
// the start is the one whose faces stand first in the file, and the end's displacement
// would be the same, turned round, if it were the other. Lengths are mm, angles radians.
//
// A motion that the two skins do not hold against each other, such as sliding along a
// smooth side, has no number: the displacement is that of the motions that are held, and the others are named.
// A step that no rigid motion takes away (Rigid false) changes along the overlap.
//
// # Cost
//
// About 2 µs a face for finding, on two threads, and some seconds for a motion.
package closure
