//go:build !amd64

package bvh

var vector = false

func boxes(w *wide, pack *packed, q *probe, d2 *lanes) uint32 { return boxesGo(w, pack, q, d2) }

func triangles(l *leaf, pack *packed, q *probe, d2 *lanes) uint32 { return trianglesGo(l, pack, q, d2) }

func partition(records []record, axis int, at float32, least *[2]entries) int {
	return partitionGo(records, axis, at, least)
}

func leastOf(records []record) entries { return leastGo(records) }

func planeBoxes(w *wide, q *planeProbe) uint32 { return planeBoxesGo(w, q) }

func planeTriangles(l *leaf, q *planeProbe) uint32 { return planeTrianglesGo(l, q) }
