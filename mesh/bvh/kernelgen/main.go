// Command kernelgen writes the vector kernels of package bvh: closest points of
// eight triangles, distances to eight boxes, and the partition of the records a
// tree is built from. Run it by `go generate ./mesh/bvh`.
//
// It is a module of its own, so that the program's own dependencies stay what
// the program needs.
package main

import (
	. "github.com/mmcloughlin/avo/build"
	. "github.com/mmcloughlin/avo/operand"
	. "github.com/mmcloughlin/avo/reg"
)

func main() {
	ConstraintExpr("amd64")
	boxes()
	triangles()
	partition()
	least()
	planeBoxes()
	planeTriangles()
	Generate()
}

// Predicates of VCMPPS and VCMPSS.
const (
	lessOrEqual    = U8(2)  // LE_OS: false for NaN
	notGreaterThan = U8(10) // NGT_US: true for NaN
	lessThan       = U8(1)  // LT_OS
)

// Offsets in bytes of the fields of probe, wide and leaf.
const (
	probeX, probeY, probeZ, probeLimit = 0, 4, 8, 12
	probeDir, probeMayFace             = 16, 28
	probeFaces, probeScale, probeSlack = 32, 36, 40
	wideLo, wideHi                     = 0, 96
	leafA, leafB, leafC, leafN, leafID = 0, 96, 192, 288, 384
	planeN, planeFrom, planeTo         = 0, 12, 16
)

func broadcast(at Mem) VecVirtual {
	r := YMM()
	VBROADCASTSS(at, r)
	return r
}

// loadMask stores the eight results, returns their mask and ends the function.
func loadMask(d2, mask VecVirtual) {
	out := Load(Param("d2"), GP64())
	VMOVUPS(d2, Mem{Base: out})
	bits := GP32()
	VMOVMSKPS(mask, bits)
	Store(bits, ReturnIndex(0))
	VZEROUPPER()
	RET()
}

func boxes() {
	TEXT("boxesAVX2", NOSPLIT, "func(w, q, d2 *float32) uint32")
	Doc("boxesAVX2 is boxesGo in AVX2.")
	Pragma("noescape")
	w := Mem{Base: Load(Param("w"), GP64())}
	q := Mem{Base: Load(Param("q"), GP64())}
	zero := YMM()
	VXORPS(zero, zero, zero)
	sum := YMM()
	for k := range 3 {
		p := broadcast(q.Offset(probeX + 4*k))
		under, over := YMM(), YMM()
		VMOVUPS(w.Offset(wideLo+32*k), under)
		VSUBPS(p, under, under)
		VSUBPS(w.Offset(wideHi+32*k), p, over)
		VMAXPS(over, under, under)
		VMAXPS(zero, under, under)
		if k == 0 {
			VMULPS(under, under, sum)
		} else {
			VFMADD231PS(under, under, sum)
		}
	}
	mask := YMM()
	VCMPPS(lessOrEqual, broadcast(q.Offset(probeLimit)), sum, mask)
	loadMask(sum, mask)
}

// vec is three vectors: eight points or directions.
type vec [3]VecVirtual

func triangles() {
	TEXT("trianglesAVX2", NOSPLIT, "func(l, q, d2 *float32) uint32")
	Doc("trianglesAVX2 is trianglesGo in AVX2.")
	Pragma("noescape")
	l := Mem{Base: Load(Param("l"), GP64())}
	q := Mem{Base: Load(Param("q"), GP64())}
	zero, minusOne := YMM(), YMM()
	VXORPS(zero, zero, zero)
	VBROADCASTSS(ConstData("minusOne", U32(0xbf800000)), minusOne)

	var plane, outside, best VecVirtual
	corners := [4]int{leafA, leafB, leafC, leafA}
	for k := range 3 {
		from := relative(l, q, corners[k])
		if k == 0 {
			plane = YMM()
			VMULPS(l.Offset(leafN), from[0], plane)
			VFMADD231PS(l.Offset(leafN+32), from[1], plane)
			VFMADD231PS(l.Offset(leafN+64), from[2], plane)
			VMULPS(plane, plane, plane)
		}
		e := side(l, corners[k], corners[k+1])
		s := beyond(l, e, from)
		d := toSide(e, from, zero, minusOne)
		if k == 0 {
			outside, best = s, d
			continue
		}
		VMAXPS(s, outside, outside)
		VMINPS(d, best, best)
	}
	VCMPPS(lessOrEqual, zero, outside, outside)
	VBLENDVPS(outside, plane, best, best)

	limit, mask, turn := broadcast(q.Offset(probeLimit)), YMM(), YMM()
	VCMPPS(notGreaterThan, limit, best, mask)
	VMULPS(l.Offset(leafN), broadcast(q.Offset(probeDir)), turn)
	VFMADD231PS(l.Offset(leafN+32), broadcast(q.Offset(probeDir+4)), turn)
	VFMADD231PS(l.Offset(leafN+64), broadcast(q.Offset(probeDir+8)), turn)
	sure := YMM()
	VCMPPS(lessOrEqual, turn, broadcast(q.Offset(probeFaces)), sure)
	VCMPPS(notGreaterThan, turn, broadcast(q.Offset(probeMayFace)), turn)
	VANDPS(turn, mask, mask)
	some := GP32()
	VMOVMSKPS(mask, some)
	TESTL(some, some)
	JNZ(LabelRef("found"))
	Store(some, ReturnIndex(0))
	VZEROUPPER()
	RET()

	Label("found")
	VANDPS(mask, sure, sure)

	// The least of the lanes that are sure; the others count as the limit.
	VBLENDVPS(sure, best, limit, sure)
	VMOVUPS(l.Offset(leafID), turn)
	VBLENDVPS(turn, limit, sure, sure)
	least := sure.AsX()
	half := XMM()
	VEXTRACTF128(U8(1), sure, half)
	VMINPS(half, least, least)
	VPERMILPS(U8(0b01_00_11_10), least, half)
	VMINPS(half, least, least)
	VPERMILPS(U8(0b10_11_00_01), least, half)
	VMINPS(half, least, least)
	VSQRTSS(least, least, least)
	scale := XMM()
	VMOVSS(q.Offset(probeScale), scale)
	VFMADD213SS(q.Offset(probeSlack), scale, least)
	VMULSS(least, least, least)
	// Of a number and NaN this takes the one written first.
	VMINSS(limit.AsX(), least, least)
	VMOVSS(least, q.Offset(probeLimit))
	VBROADCASTSS(least, turn)
	VCMPPS(notGreaterThan, turn, best, turn)
	VANDPS(turn, mask, mask)
	loadMask(best, mask)
}

// relative returns a corner less the point asked about.
func relative(l, q Mem, corner int) (v vec) {
	for k := range 3 {
		v[k] = YMM()
		VMOVUPS(l.Offset(corner+32*k), v[k])
		VSUBPS(broadcast(q.Offset(probeX+4*k)), v[k], v[k])
	}
	return v
}

// side returns the vector from one corner to another.
func side(l Mem, from, to int) (e vec) {
	for k := range 3 {
		e[k] = YMM()
		VMOVUPS(l.Offset(to+32*k), e[k])
		VSUBPS(l.Offset(from+32*k), e[k], e[k])
	}
	return e
}

// beyond returns (n x e)·from, positive where the point lies outside the side.
func beyond(l Mem, e, from vec) VecVirtual {
	sum, m := YMM(), YMM()
	for k := range 3 {
		i, j := (k+1)%3, (k+2)%3
		VMULPS(l.Offset(leafN+32*j), e[i], m)
		VFMSUB231PS(l.Offset(leafN+32*i), e[j], m)
		if k == 0 {
			VMULPS(from[k], m, sum)
		} else {
			VFMADD231PS(from[k], m, sum)
		}
	}
	return sum
}

// toSide returns the squared distance to a side; it overwrites e.
func toSide(e, from vec, zero, minusOne VecVirtual) VecVirtual {
	u, l := YMM(), YMM()
	VMULPS(e[0], from[0], u)
	VMULPS(e[0], e[0], l)
	for k := 1; k < 3; k++ {
		VFMADD231PS(e[k], from[k], u)
		VFMADD231PS(e[k], e[k], l)
	}
	VDIVPS(l, u, u)
	// A side of no length gives 0/0; of two operands of which one is NaN, these take the first written here.
	VMINPS(zero, u, u)
	VMAXPS(minusOne, u, u)
	d := YMM()
	for k := range 3 {
		VFNMADD213PS(from[k], u, e[k])
		if k == 0 {
			VMULPS(e[k], e[k], d)
		} else {
			VFMADD231PS(e[k], e[k], d)
		}
	}
	return d
}

func partition() {
	TEXT("partitionAVX2", NOSPLIT, "func(records *float32, n, axis int, at float32, least *float32) int")
	Doc("partitionAVX2 is partitionGo in AVX2.")
	Pragma("noescape")
	i := Load(Param("records"), GP64())
	n := Load(Param("n"), GP64())
	axis := Load(Param("axis"), GP64())
	at := XMM()
	Load(Param("at"), at)
	least := Mem{Base: Load(Param("least"), GP64())}
	first, end, low := GP64(), GP64(), GP64()
	MOVQ(i, first)
	MOVQ(i, low)
	MOVQ(n, end)
	SHLQ(U8(5), end)
	ADDQ(i, end)
	left, right, ones := YMM(), YMM(), YMM()
	VMOVUPS(least, left)
	VMOVUPS(least, right)
	VPCMPEQD(ones, ones, ones)

	Label("next")
	CMPQ(i, end)
	JAE(LabelRef("done"))
	here, there, other := YMM(), YMM(), YMM()
	middle := XMM()
	VMOVUPS(Mem{Base: i}, here)
	VMOVUPS(Mem{Base: low}, there)
	VMOVSS(Mem{Base: i, Index: axis, Scale: 4}, middle)
	VSUBSS(Mem{Base: i, Index: axis, Scale: 4, Disp: 16}, middle, middle)
	VCMPSS(lessThan, at, middle, middle)
	VMOVUPS(here, Mem{Base: low})
	VMOVUPS(there, Mem{Base: i})
	step := GP32()
	VMOVD(middle, step)
	ANDL(U8(32), step)
	ADDQ(step.As64(), low)
	isLeft := YMM()
	VBROADCASTSS(middle, isLeft)
	// All bits set is NaN, and of NaN and a number VMINPS takes the one written first.
	VXORPS(ones, isLeft, other)
	VORPS(here, other, other)
	VMINPS(left, other, left)
	VORPS(here, isLeft, isLeft)
	VMINPS(right, isLeft, right)
	ADDQ(U8(32), i)
	JMP(LabelRef("next"))

	Label("done")
	VMOVUPS(left, least)
	VMOVUPS(right, least.Offset(32))
	SUBQ(first, low)
	SHRQ(U8(5), low)
	Store(low, ReturnIndex(0))
	VZEROUPPER()
	RET()
}

func least() {
	TEXT("leastAVX2", NOSPLIT, "func(records *float32, n int, least *float32)")
	Doc("leastAVX2 is leastGo in AVX2; least holds what to start with.")
	Pragma("noescape")
	i := Load(Param("records"), GP64())
	end := Load(Param("n"), GP64())
	least := Mem{Base: Load(Param("least"), GP64())}
	SHLQ(U8(5), end)
	ADDQ(i, end)
	sum := YMM()
	VMOVUPS(least, sum)

	Label("nextRecord")
	CMPQ(i, end)
	JAE(LabelRef("out"))
	VMINPS(Mem{Base: i}, sum, sum)
	ADDQ(U8(32), i)
	JMP(LabelRef("nextRecord"))

	Label("out")
	VMOVUPS(sum, least)
	VZEROUPPER()
	RET()
}

func planeBoxes() {
	TEXT("planeBoxesAVX2", NOSPLIT, "func(w, q *float32) uint32")
	Doc("planeBoxesAVX2 is planeBoxesGo in AVX2.")
	Pragma("noescape")
	w := Mem{Base: Load(Param("w"), GP64())}
	q := Mem{Base: Load(Param("q"), GP64())}
	least, most := YMM(), YMM()
	for k := range 3 {
		n, lo, hi := broadcast(q.Offset(planeN+4*k)), YMM(), YMM()
		VMULPS(w.Offset(wideLo+32*k), n, lo)
		VMULPS(w.Offset(wideHi+32*k), n, hi)
		if k == 0 {
			VMINPS(hi, lo, least)
			VMAXPS(hi, lo, most)
			continue
		}
		near, far := YMM(), YMM()
		VMINPS(hi, lo, near)
		VMAXPS(hi, lo, far)
		VADDPS(near, least, least)
		VADDPS(far, most, most)
	}
	between(q, least, most)
}

func planeTriangles() {
	TEXT("planeTrianglesAVX2", NOSPLIT, "func(l, q *float32) uint32")
	Doc("planeTrianglesAVX2 is planeTrianglesGo in AVX2.")
	Pragma("noescape")
	l := Mem{Base: Load(Param("l"), GP64())}
	q := Mem{Base: Load(Param("q"), GP64())}
	var n vec
	for k := range 3 {
		n[k] = broadcast(q.Offset(planeN + 4*k))
	}
	least, most := YMM(), YMM()
	for c, corner := range [3]int{leafA, leafB, leafC} {
		s := YMM()
		VMULPS(l.Offset(corner), n[0], s)
		VFMADD231PS(l.Offset(corner+32), n[1], s)
		VFMADD231PS(l.Offset(corner+64), n[2], s)
		if c == 0 {
			VMOVAPS(s, least)
			VMOVAPS(s, most)
			continue
		}
		VMINPS(s, least, least)
		VMAXPS(s, most, most)
	}
	between(q, least, most)
}

// between returns the mask of the lanes whose range reaches from below the plane's
// upper bound to above its lower one, or is not a number.
func between(q Mem, least, most VecVirtual) {
	VCMPPS(notGreaterThan, broadcast(q.Offset(planeTo)), least, least)
	VCMPPS(notGreaterThan, most, broadcast(q.Offset(planeFrom)), most)
	VANDPS(most, least, least)
	bits := GP32()
	VMOVMSKPS(least, bits)
	Store(bits, ReturnIndex(0))
	VZEROUPPER()
	RET()
}
