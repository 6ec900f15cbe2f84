package bvh

import "golang.org/x/sys/cpu"

// vector says whether this processor has what the kernels need. Tests turn it off.
var vector = cpu.X86.HasAVX2 && cpu.X86.HasFMA

func boxes(w *wide, pack *packed, q *probe, d2 *lanes) uint32 {
	if vector {
		return boxesAVX2(&w.lo[0][0], &q.x, &d2[0])
	}
	return boxesGo(w, pack, q, d2)
}

func triangles(l *leaf, pack *packed, q *probe, d2 *lanes) uint32 {
	if vector {
		return trianglesAVX2(&l.a[0][0], &q.x, &d2[0])
	}
	return trianglesGo(l, pack, q, d2)
}

func partition(records []record, axis int, at float32, least *[2]entries) int {
	if vector && len(records) > 0 {
		return partitionAVX2(&records[0].lo[0], len(records), axis, at, &least[0][0])
	}
	return partitionGo(records, axis, at, least)
}

func leastOf(records []record) entries {
	if !vector || len(records) == 0 {
		return leastGo(records)
	}
	least := greatest
	leastAVX2(&records[0].lo[0], len(records), &least[0])
	return least
}

func planeBoxes(w *wide, q *planeProbe) uint32 {
	if vector {
		return planeBoxesAVX2(&w.lo[0][0], &q.n[0])
	}
	return planeBoxesGo(w, q)
}

func planeTriangles(l *leaf, q *planeProbe) uint32 {
	if vector {
		return planeTrianglesAVX2(&l.a[0][0], &q.n[0])
	}
	return planeTrianglesGo(l, q)
}
