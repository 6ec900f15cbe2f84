// Command kernelgen writes the vector kernels of package shade: a cluster's vertices are carried into the picture, the
// pixels that its small triangles hold are found, and drawn. Run it by `go generate ./deviation/shade`.
//
// It is a module of its own, so that the program's own dependencies stay what
// the program needs.
package main

import (
	"encoding/binary"
	"math"

	. "github.com/mmcloughlin/avo/build"
	. "github.com/mmcloughlin/avo/operand"
	. "github.com/mmcloughlin/avo/reg"
)

func main() {
	ConstraintExpr("amd64")
	constants()
	project()
	cover()
	spread()
	pixels()
	resolve()
	fetch()
	Generate()
}

// Offsets in bytes of the fields of vectors; a test holds them beside the type's own.
const (
	record  = 0
	place   = record + 260*32
	inverse = place + 264*4
	edge0   = inverse + 136*8
	edge1   = edge0 + 136*4
	area    = edge1 + 136*4
	grow0   = area + 136*4
	grow1   = grow0 + 136*4
	first   = grow1 + 136*4
	tag     = first + 136*4
	medium  = tag + 136*4
	large   = medium + 144
	itemE0  = large + 144
	itemE1  = itemE0 + 1032*4
	itemAt  = itemE1 + 1032*4
	itemTag = itemAt + 1032*4
)

// Offsets of what project multiplies by, in rows of 32 bytes.
const (
	byX, byY, byZ, byZHigh, byLamps, byXHigh, byAnyHigh = 0, 3 * 32, 6 * 32, 9 * 32, 12 * 32, 18 * 32, 20 * 32
)

// The constants.
var (
	pickAll                Mem // the three beside one another
	pickX, pickY, pickZ    Mem // of positions, 16 bits each, to 64
	pickNX, pickNY, pickNZ Mem // of normals, bytes
	magic                  Mem // 2^52: what is added to its bits is its value above it
	ambient                Mem
	perLight, perInner     Mem
	lanes                  Mem // 0 to 7
	compress               Mem // of every mask the lanes that are set
	half                   Mem // a pixel's half less one, in words
	middle                 Mem // a pixel's half, in words
	one, two, mostMedium   Mem // words
	turn                   Mem // swaps the words of a pair
	turnSign               Mem // -1, 1
	pairOne                Mem // words of 1
	high                   Mem // the upper word of a pair
	sideBit                Mem
	ones                   Mem // float64
	steps                  Mem // columns and rows of lanes, pairs
	stepDown               Mem // two rows
	halfCode, codeLane     Mem
	fields                 Mem // by how much a record's fields are shifted into a word: of the inner and of the outer side
	bytes                  Mem
	dwordOne, dwordEight   Mem
	tenBits, sixBits       Mem
	channel, opaque        Mem
	lightWhole, lightPart  Mem // a factor of light is the light times lightWhole and the quotient of it, times lightPart and lightMore, by 25
	lightMore, light25     Mem
)

func bytes16(name string, b [16]uint8, twice bool) Mem {
	v := []uint64{binary.LittleEndian.Uint64(b[:8]), binary.LittleEndian.Uint64(b[8:])}
	if twice {
		v = append(v, v...)
	}
	return qwords(name, v...)
}

func dwords(name string, of func(lane int) uint32) Mem {
	m := GLOBL(name, RODATA|NOPTR)
	for i := range 8 {
		DATA(4*i, U32(of(i)))
	}
	return m
}

func qwords(name string, v ...uint64) Mem {
	m := GLOBL(name, RODATA|NOPTR)
	for i, v := range v {
		DATA(8*i, U64(v))
	}
	return m
}

func floats(name string, v ...float64) Mem {
	bits := make([]uint64, len(v))
	for i, v := range v {
		bits[i] = math.Float64bits(v)
	}
	return qwords(name, bits...)
}

func pairs(name string, low, high int16) Mem {
	return dwords(name, func(int) uint32 { return uint32(uint16(low)) | uint32(uint16(high))<<16 })
}

func constants() {
	const z = 0x80 // a byte of zero
	axis := func(k uint8) [16]uint8 {
		return [16]uint8{2 * k, 2*k + 1, z, z, z, z, z, z, 6 + 2*k, 7 + 2*k, z, z, z, z, z, z}
	}
	pickX, pickY, pickZ = bytes16("pickX", axis(0), true), bytes16("pickY", axis(1), true), bytes16("pickZ", axis(2), true)
	pickAll = bytes16("pickAll", [16]uint8{0, 1, 2, 3, 4, 5, z, z, 6, 7, 8, 9, 10, 11, z, z}, true)
	normal := func(k uint8) [16]uint8 {
		return [16]uint8{k, k + 3, k + 6, k + 9, z, z, z, z, z, z, z, z, z, z, z, z}
	}
	pickNX, pickNY, pickNZ = bytes16("pickNX", normal(0), false), bytes16("pickNY", normal(1), false), bytes16("pickNZ", normal(2), false)
	const m = 0x4330000000000000
	magic = qwords("magic", m, m, m, m)
	ambient = dwords("ambient", func(int) uint32 { return 352 << 16 })
	const light, inner = 1.0 / (1 << 16), 0.72 / (1 << 16)
	perLight, perInner = floats("perLight", light, light, light, light), floats("perInner", inner, inner, inner, inner)
	lanes = dwords("laneNumbers", func(i int) uint32 { return uint32(i) })
	compress = GLOBL("compress", RODATA|NOPTR)
	for mask := range 256 {
		var v uint64
		n := 0
		for i := range 8 {
			if mask>>i&1 != 0 {
				v |= uint64(i) << (8 * n)
				n++
			}
		}
		DATA(8*mask, U64(v))
	}
	half, middle = pairs("half", 127, 127), pairs("middle", 128, 128)
	one, two, mostMedium = pairs("wordOne", 1, 1), pairs("wordTwo", 2, 2), pairs("mostMedium", 4, 8)
	turn = bytes16("turn", [16]uint8{2, 3, 0, 1, 6, 7, 4, 5, 10, 11, 8, 9, 14, 15, 12, 13}, true)
	turnSign, pairOne = pairs("turnSign", -1, 1), one
	high = dwords("high", func(int) uint32 { return 0xffff0000 })
	sideBit = dwords("sideBit", func(int) uint32 { return 0x100 })
	ones = floats("ones", 1, 1, 1, 1)
	steps = dwords("steps", func(i int) uint32 { return uint32(i%4) | uint32(i/4)<<16 })
	stepDown = pairs("stepDown", 0, 2)
	halfCode = floats("halfCode", 0, 0, 0, 0.5)
	codeLane = qwords("codeLane", 0, 0, 0, 1<<64-1)
	fields = qwords("fields", 32, 64, 0, 16, 32, 0, 64, 16)
	bytes = qwords("bytes", 0x0101010101010101)
	every := func(name string, v uint32) Mem { return dwords(name, func(int) uint32 { return v }) }
	tenBits, sixBits = every("tenBits", 1<<10-1), every("sixBits", 63<<10)
	channel, opaque = every("channel", 255), every("opaque", 0xff<<24)
	// 2^18/800 is 327 and 17/25; 5243/2^17 is so little above 1/25 that quotients up to 17*1023+24 are exact.
	lightWhole, lightPart, lightMore, light25 = every("lightWhole", 327), every("lightPart", 17), every("lightMore", 24), every("light25", 5243)
	dwordOne, dwordEight = dwords("dwordOne", func(int) uint32 { return 1 }), dwords("dwordEight", func(int) uint32 { return 8 })
}

// project carries vertices into the picture, four at a time.
func project() {
	TEXT("projectAVX2", NOSPLIT, "func(to *float64, by *uint64, add *int64, position *uint16, normal *int8, level *uint16, groups int)")
	Doc("projectAVX2 fills record and place of so many groups of four vertices.")
	Pragma("noescape")
	to := argument("to")
	by := Mem{Base: argument("by")}
	add := Mem{Base: argument("add")}
	position, normal, level := argument("position"), argument("normal"), argument("level")
	groups := argument("groups")
	x0, y0, z0 := YMM(), YMM(), YMM()
	VPBROADCASTQ(add, x0)
	VPBROADCASTQ(add.Offset(8), y0)
	VPBROADCASTQ(add.Offset(16), z0)
	places := GP64()
	LEAQ(Mem{Base: to, Disp: place}, places)
	m := YMM()
	VMOVDQU(magic, m)
	none := XMM()
	VPXOR(none, none, none)

	Label("vertices")
	all, px, py, pz := YMM(), YMM(), YMM(), YMM()
	VMOVDQU(Mem{Base: position}, all.AsX())
	VINSERTI128(U8(1), Mem{Base: position, Disp: 12}, all, all)
	VPSHUFB(pickX, all, px)
	VPSHUFB(pickY, all, py)
	VPSHUFB(pickZ, all, pz)
	axis := func(from VecVirtual, at int) VecVirtual {
		s, t := YMM(), YMM()
		VPMULDQ(by.Offset(at), px, s)
		VPADDQ(from, s, s)
		VPMULDQ(by.Offset(at+32), py, t)
		VPADDQ(t, s, s)
		VPMULDQ(by.Offset(at+64), pz, t)
		VPADDQ(t, s, s)
		return s
	}
	x := axis(x0, byX)
	y := axis(y0, byY)
	// Of the upper halves of the factors only what falls into 16 bits counts.
	CMPQ(by.Offset(byAnyHigh), U8(0))
	JE(LabelRef("low"))
	VPSHUFB(pickAll, all, all)
	for k, to := range []VecVirtual{x, y} {
		t := YMM()
		VPMADDWD(by.Offset(byXHigh+32*k), all, t)
		VPADDD(t, to, to)
		VPSLLQ(U8(32), t, t)
		VPADDD(t, to, to)
	}
	Label("low")
	VPSRLQ(U8(32), x, x)
	VPSRLQ(U8(32), y, y)
	VPSLLQ(U8(16), y, y)
	VPBLENDW(U8(0xaa), y, x, y)
	VPSHUFD(U8(0x88), y, y)
	VPERMQ(U8(0x08), y, y)
	VMOVDQU(y.AsX(), Mem{Base: places})

	z, t := YMM(), YMM()
	VPMULUDQ(by.Offset(byZHigh), px, z)
	VPMULUDQ(by.Offset(byZHigh+32), py, t)
	VPADDQ(t, z, z)
	VPMULUDQ(by.Offset(byZHigh+64), pz, t)
	VPADDQ(t, z, z)
	VPSLLQ(U8(32), z, z)
	VPADDQ(z0, z, z)
	for k, p := range []VecVirtual{px, py, pz} {
		VPMULUDQ(by.Offset(byZ+32*k), p, t)
		VPADDQ(t, z, z)
	}
	VPSRLQ(U8(24), z, z)
	VPOR(m, z, z)
	VSUBPD(m, z, z)

	n, nx, ny, nz := XMM(), XMM(), XMM(), XMM()
	VMOVDQU(Mem{Base: normal}, n)
	VPSHUFB(pickNX, n, nx)
	VPSHUFB(pickNY, n, ny)
	VPSHUFB(pickNZ, n, nz)
	VPMOVSXBD(nx, nx)
	VPMOVSXBD(ny, ny)
	VPMOVSXBD(nz, nz)
	lamp := func(at int) VecVirtual {
		s, t := XMM(), XMM()
		VPMULLD(by.Offset(at), nx, s)
		VPMULLD(by.Offset(at+32), ny, t)
		VPADDD(t, s, s)
		VPMULLD(by.Offset(at+64), nz, t)
		VPADDD(t, s, s)
		return s
	}
	key := lamp(byLamps)
	fill := lamp(byLamps + 96)
	front, back, u := XMM(), XMM(), XMM()
	VPMAXSD(none, key, front)
	VPMAXSD(none, fill, u)
	VPADDD(u, front, front)
	VPADDD(ambient, front, front)
	VPMINSD(none, key, back)
	VPMINSD(none, fill, u)
	VPADDD(u, back, back)
	VMOVDQU(ambient, u)
	VPSUBD(back, u, back)
	outer, inner, code := YMM(), YMM(), YMM()
	VCVTDQ2PD(front, outer)
	VCVTDQ2PD(back, inner)
	VMULPD(perLight, outer, outer)
	VMULPD(perInner, inner, inner)
	c := XMM()
	VPMOVZXWD(Mem{Base: level}, c)
	VCVTDQ2PD(c, code)

	t0, t1, t2, t3 := YMM(), YMM(), YMM(), YMM()
	VUNPCKLPD(outer, z, t0)
	VUNPCKHPD(outer, z, t1)
	VUNPCKLPD(code, inner, t2)
	VUNPCKHPD(code, inner, t3)
	r := YMM()
	VPERM2F128(U8(0x20), t2, t0, r)
	VMOVUPD(r, Mem{Base: to, Disp: record})
	VPERM2F128(U8(0x20), t3, t1, r)
	VMOVUPD(r, Mem{Base: to, Disp: record + 32})
	VPERM2F128(U8(0x31), t2, t0, r)
	VMOVUPD(r, Mem{Base: to, Disp: record + 64})
	VPERM2F128(U8(0x31), t3, t1, r)
	VMOVUPD(r, Mem{Base: to, Disp: record + 96})

	ADDQ(U8(24), position)
	ADDQ(U8(12), normal)
	ADDQ(U8(8), level)
	ADDQ(U8(16), places)
	SUBQ(I32(-128), to)
	DECQ(groups)
	JNZ(LabelRef("vertices"))
	VZEROUPPER()
	RET()
}

func argument(name string) GPVirtual {
	r := GP64()
	Load(Param(name), r)
	return r
}

// pairedStride returns pairs of 1 and the argument stride: the product with a column and a row is where they lie.
func pairedStride() VecVirtual {
	s, r := argument("stride"), YMM()
	SHLQ(U8(16), s)
	INCQ(s)
	VMOVD(s.As32(), r.AsX())
	VPBROADCASTD(r.AsX(), r)
	return r
}

// emit appends the lanes of mask that hold a pixel to the items.
func emit(v, items, mask Register, e0, e1, at, tags VecVirtual, table Register) {
	lane, t := YMM(), YMM()
	VPMOVZXBD(Mem{Base: table, Index: mask, Scale: 8}, lane)
	for _, s := range []struct {
		from VecVirtual
		to   int
	}{{e0, itemE0}, {e1, itemE1}, {at, itemAt}, {tags, itemTag}} {
		VPERMD(s.from, lane, t)
		VMOVDQU(t, Mem{Base: v, Index: items, Scale: 4, Disp: s.to})
	}
	n := GP64()
	POPCNTQ(mask, n)
	ADDQ(n, items)
}

// cover goes through triangles, eight at a time.
func cover() {
	TEXT("coverAVX2", NOSPLIT, "func(v *float64, corner *uint8, n int, stride int) (items, mediums, larges int)")
	Doc("coverAVX2 lists the pixels that n triangles hold whose boxes are two by two pixels at most, sets up those of up to four columns and",
		"eight rows and lists them, and lists those whose boxes are larger; stride is that of rows, less than 2^15.")
	Pragma("noescape")
	v := argument("v")
	corner := argument("corner")
	count := argument("n")
	n := YMM()
	VMOVD(count.As32(), n.AsX())
	VPBROADCASTD(n.AsX(), n)
	stride := pairedStride()
	index := YMM()
	VMOVDQU(lanes, index)
	items, mediums, larges, at := GP64(), GP64(), GP64(), GP64()
	XORQ(items, items)
	XORQ(mediums, mediums)
	XORQ(larges, larges)
	XORQ(at, at)
	table := GP64()
	LEAQ(compress, table)

	Label("triangles")
	gather := func(k int) VecVirtual {
		out, upper := YMM(), XMM()
		for part, x := range []Register{out.AsX(), upper} {
			for i := range 4 {
				name := GP32()
				MOVBLZX(Mem{Base: corner, Disp: 12*part + 3*i + k}, name)
				m := Mem{Base: v, Index: name.As64(), Scale: 4, Disp: place}
				if i == 0 {
					VMOVD(m, x)
				} else {
					VPINSRD(U8(i), m, x, x)
				}
			}
		}
		VINSERTI128(U8(1), upper, out, out)
		return out
	}
	a, b, c := gather(0), gather(1), gather(2)
	zero, lo, d, t := YMM(), YMM(), YMM(), YMM()
	VPMINSW(b, a, lo)
	VPMINSW(c, lo, lo)
	VPMAXSW(b, a, d)
	VPMAXSW(c, d, d)
	VPADDW(half, lo, lo)
	VPADDW(half, d, d)
	VPSRLW(U8(8), lo, lo)
	VPSRLW(U8(8), d, d)
	VPSUBW(lo, d, d) // columns, rows
	VPXOR(zero, zero, zero)
	survivors := YMM()
	VPCMPEQW(zero, d, t)
	VPCMPEQD(zero, t, survivors)
	VPCMPGTD(index, n, t)
	VPAND(t, survivors, survivors)
	some := GP32()
	VMOVMSKPS(survivors, some)
	TESTL(some, some)
	JZ(LabelRef("next"))

	p, q0, q1 := YMM(), YMM(), YMM()
	VPSLLW(U8(8), lo, p)
	VPADDW(middle, p, p)
	VPSUBW(b, p, q0)
	VPSUBW(c, p, q1)
	VPSUBW(b, c, p) // from here on what leads from b to c
	VPSUBW(c, a, c) // from c to a
	VPSUBW(a, b, a) // from a to b
	g0, g1, twice, s := p, c, a, t
	VPSHUFB(turn, g0, g0)
	VPSHUFB(turn, g1, g1)
	VPSIGNW(turnSign, g0, g0)
	VPSIGNW(turnSign, g1, g1)
	VPMADDWD(g1, twice, twice)
	VPSRAD(U8(31), twice, s)
	tags := b
	VPAND(sideBit, s, tags)
	VPOR(pairOne, s, s)
	VPSIGNW(s, g0, g0)
	VPSIGNW(s, g1, g1)
	VPABSD(twice, twice)
	e0, e1 := q0, q1
	VPMADDWD(g0, q0, e0)
	VPMADDWD(g1, q1, e1)
	VPOR(index, tags, tags)
	VPMADDWD(stride, lo, lo) // from here on the first pixel
	pixel := lo
	VPAND(high, d, t)
	VPOR(t, tags, tags)
	smalls, bigs, mids := GP32(), GP32(), GP32()
	VPCMPGTW(mostMedium, d, t)
	VPCMPEQD(zero, t, t)
	VPANDN(survivors, t, t)
	VMOVMSKPS(t, bigs)
	// Without area nothing is held; what is large is asked later.
	VPCMPEQD(zero, twice, t)
	VPANDN(survivors, t, survivors)
	VMOVMSKPS(survivors, mids)
	small := YMM()
	VPCMPGTW(two, d, t)
	VPCMPEQD(zero, t, small)
	VPAND(survivors, small, small)
	VMOVMSKPS(small, smalls)
	ANDNL(mids, smalls, mids)
	ANDNL(mids, bigs, mids)

	f, g := YMM(), YMM()
	VCVTDQ2PD(twice.AsX(), f)
	VEXTRACTI128(U8(1), twice, t.AsX())
	VCVTDQ2PD(t.AsX(), g)
	VMOVUPD(ones, t)
	VDIVPD(f, t, f)
	VDIVPD(g, t, g)
	VMOVUPD(f, Mem{Base: v, Index: at, Scale: 8, Disp: inverse})
	VMOVUPD(g, Mem{Base: v, Index: at, Scale: 8, Disp: inverse + 32})

	TESTL(mids, mids)
	JZ(LabelRef("noMedium"))
	for _, s := range []struct {
		from VecVirtual
		to   int
	}{{e0, edge0}, {e1, edge1}, {twice, area}, {g0, grow0}, {g1, grow1}, {pixel, first}, {tags, tag}} {
		VMOVDQU(s.from, Mem{Base: v, Index: at, Scale: 4, Disp: s.to})
	}
	list := func(mask, count GPVirtual, to int) {
		names, base, n := GP64(), GP64(), GP64()
		MOVQ(at, base)
		IMULQ(bytes, base)
		MOVQ(Mem{Base: table, Index: mask.As64(), Scale: 8}, names)
		ADDQ(base, names)
		MOVQ(names, Mem{Base: v, Index: count, Scale: 1, Disp: to})
		POPCNTQ(mask.As64(), n)
		ADDQ(n, count)
	}
	list(mids, mediums, medium)
	Label("noMedium")
	TESTL(bigs, bigs)
	JZ(LabelRef("noLarge"))
	list(bigs, larges, large)
	Label("noLarge")
	TESTL(smalls, smalls)
	JZ(LabelRef("next"))

	// The pixels of two by two.
	held := func(e0, e1, at VecVirtual) {
		t, u, mask := YMM(), YMM(), GP32()
		VPSUBD(e0, twice, t)
		VPSUBD(e1, t, t)
		VPOR(e0, e1, u)
		VPOR(u, t, t)
		VMOVMSKPS(t, mask)
		ANDNL(smalls, mask, mask)
		emit(v, items, mask.As64(), e0, e1, at, tags, table)
	}
	held(e0, e1, pixel)
	// Of those whose box is one pixel the others are not asked.
	VPCMPGTW(one, d, t)
	VPXOR(zero, zero, zero)
	VPCMPEQD(zero, t, t)
	VPANDN(small, t, t)
	VMOVMSKPS(t, smalls)
	TESTL(smalls, smalls)
	JZ(LabelRef("next"))
	y0, y1, below := g0, g1, YMM()
	x0, x1 := YMM(), YMM()
	VPSLLD(U8(16), g0, x0)
	VPSRAD(U8(8), x0, x0)
	VPSLLD(U8(16), g1, x1)
	VPSRAD(U8(8), x1, x1)
	VPAND(high, g0, y0)
	VPAND(high, g1, y1)
	VPSRAD(U8(8), y0, y0)
	VPSRAD(U8(8), y1, y1)
	VPADDD(e0, y0, y0)
	VPADDD(e1, y1, y1)
	VPSRLD(U8(16), stride, below)
	VPADDD(pixel, below, below)
	held(y0, y1, below)
	VPADDD(x0, e0, e0)
	VPADDD(x1, e1, e1)
	VPADDD(x0, y0, y0)
	VPADDD(x1, y1, y1)
	VPADDD(dwordOne, pixel, pixel)
	VPADDD(dwordOne, below, below)
	held(e0, e1, pixel)
	held(y0, y1, below)

	Label("next")
	ADDQ(U8(24), corner)
	ADDQ(U8(8), at)
	VPADDD(dwordEight, index, index)
	CMPQ(at, count)
	JL(LabelRef("triangles"))
	Store(items, ReturnIndex(0))
	Store(mediums, ReturnIndex(1))
	Store(larges, ReturnIndex(2))
	VZEROUPPER()
	RET()
}

// spread goes through triangles set up by cover, of each two rows at a time.
func spread() {
	TEXT("spreadAVX2", NOSPLIT, "func(v *float64, list *uint8, n int, stride int, items int) int")
	Doc("spreadAVX2 lists, after so many items, the pixels that the n triangles listed hold, and returns how many items there are then.")
	Pragma("noescape")
	v := argument("v")
	list := argument("list")
	n := argument("n")
	items := argument("items")
	table := GP64()
	LEAQ(compress, table)
	offset, down := pairedStride(), YMM()
	VPSRLD(U8(16), offset, down)
	VPSLLD(U8(1), down, down)
	VPMADDWD(steps, offset, offset)

	Label("each")
	i, rows := GP64(), GP32()
	MOVBLZX(Mem{Base: list}, i.As32())
	of := func(at int) VecVirtual {
		r := YMM()
		VPBROADCASTD(Mem{Base: v, Index: i, Scale: 4, Disp: at}, r)
		return r
	}
	e0, e1, e2, g0, g1, at, tags := of(edge0), of(edge1), of(area), of(grow0), of(grow1), of(first), of(tag)
	MOVL(Mem{Base: v, Index: i, Scale: 4, Disp: tag}, rows)
	d := YMM()
	grow := func(g, e VecVirtual) {
		VPMADDWD(steps, g, d)
		VPSLLD(U8(8), d, d)
		VPADDD(d, e, e)
		VPSUBD(e, e2, e2)
		VPMADDWD(stepDown, g, g)
		VPSLLD(U8(8), g, g)
	}
	grow(g0, e0)
	grow(g1, e1)
	VPADDD(offset, at, at)
	// Four rows, or eight.
	SHRL(U8(16), rows)
	ADDL(U8(3), rows)
	SHRL(U8(2), rows)
	ADDL(rows, rows)

	Label("rows")
	mask := GP32()
	VPOR(e0, e1, d)
	VPOR(e2, d, d)
	VMOVMSKPS(d, mask)
	XORL(U32(0xff), mask)
	emit(v, items, mask.As64(), e0, e1, at, tags, table)
	VPADDD(g0, e0, e0)
	VPADDD(g1, e1, e1)
	VPSUBD(g0, e2, e2)
	VPSUBD(g1, e2, e2)
	VPADDD(down, at, at)
	DECL(rows)
	JNZ(LabelRef("rows"))
	INCQ(list)
	DECQ(n)
	JNZ(LabelRef("each"))
	Store(items, ReturnIndex(0))
	VZEROUPPER()
	RET()
}

// pixels goes through items; a record's fields run over a triangle side by side.
func pixels() {
	TEXT("pixelsAVX2", NOSPLIT, "func(v *float64, corner *uint8, words *uint64, model uint64, n int)")
	Doc("pixelsAVX2 draws n items of triangles with these corners, from the first pixel on that their places are counted from.")
	Pragma("noescape")
	v := argument("v")
	corner := argument("corner")
	words := argument("words")
	model := argument("model")
	n := argument("n")
	end := GP64()
	LEAQ(Mem{Base: v, Index: n, Scale: 4}, end)
	item := GP64()
	MOVQ(v, item)
	shifts := GP64()
	LEAQ(fields, shifts)
	zero, m, codes, add := YMM(), YMM(), YMM(), YMM()
	VXORPD(zero, zero, zero)
	VMOVUPD(magic, m)
	VMOVUPD(codeLane, codes)
	VMOVUPD(halfCode, add)

	Label("items")
	t, side, at := GP64(), GP64(), GP64()
	MOVL(Mem{Base: item, Disp: itemTag}, side.As32())
	MOVBLZX(side.As8(), t.As32())
	SHRL(U8(3), side.As32())
	ANDL(U8(32), side.As32())
	r := XMM()
	VMOVSD(Mem{Base: v, Index: t, Scale: 8, Disp: inverse}, r)
	LEAQ(Mem{Base: t, Index: t, Scale: 2}, t)
	share := func(at int) VecVirtual {
		x := YMM()
		VCVTSI2SDL(Mem{Base: item, Disp: at}, zero.AsX(), x.AsX())
		VMULSD(r, x.AsX(), x.AsX())
		VBROADCASTSD(x.AsX(), x)
		return x
	}
	u, w := share(itemE0), share(itemE1)
	of := func(k int) VecVirtual {
		name, x := GP64(), YMM()
		MOVBLZX(Mem{Base: corner, Index: t, Scale: 1, Disp: k}, name.As32())
		SHLL(U8(5), name.As32())
		VMOVUPD(Mem{Base: v, Index: name, Scale: 1, Disp: record}, x)
		return x
	}
	a, b, c := of(0), of(1), of(2)
	unknown := YMM()
	VMINPD(a, b, unknown)
	VMINPD(c, unknown, unknown)
	VCMPPD(U8(0), zero, unknown, unknown)
	VANDPD(codes, unknown, unknown)
	VSUBPD(c, a, a)
	VSUBPD(c, b, b)
	VMULPD(u, a, a)
	VMULPD(w, b, b)
	VADDPD(b, a, a)
	VADDPD(add, c, c)
	VADDPD(a, c, c)
	VANDNPD(c, unknown, c)
	VROUNDPD(U8(3), c, c)
	VADDPD(m, c, c)
	VPXOR(m, c, c)
	VPSLLVQ(Mem{Base: shifts, Index: side, Scale: 1}, c, c)
	VEXTRACTI128(U8(1), c, u.AsX())
	VPOR(u.AsX(), c.AsX(), c.AsX())
	VPSHUFD(U8(0x4e), c.AsX(), u.AsX())
	VPOR(u.AsX(), c.AsX(), c.AsX())
	word, was := GP64(), GP64()
	VMOVQ(c.AsX(), word)
	ORQ(model, word)
	MOVLQSX(Mem{Base: item, Disp: itemAt}, at)
	MOVQ(Mem{Base: words, Index: at, Scale: 8}, was)
	CMPQ(word, was)
	CMOVQCS(was, word)
	MOVQ(word, Mem{Base: words, Index: at, Scale: 8})
	ADDQ(U8(4), item)
	CMPQ(item, end)
	JNE(LabelRef("items"))
	VZEROUPPER()
	RET()
}

// resolve turns words into colours, eight at a time.
func resolve() {
	TEXT("resolveAVX2", NOSPLIT, "func(words *uint64, depth *uint32, pixels *uint8, colors *uint32, model uint32, least uint32, most uint32, ground uint32, groups int) int")
	Doc("resolveAVX2 gives groups of eight pixels their depths and colours and empties their words, up to a group that holds a word of another model",
		"or of a code under least or above most, and returns how many groups that are; model is as it stands in words.")
	Pragma("noescape")
	words, depth, pixels, colors := argument("words"), argument("depth"), argument("pixels"), argument("colors")
	all := func(name string) VecVirtual {
		r, v := GP32(), YMM()
		Load(Param(name), r)
		VMOVD(r, v.AsX())
		VPBROADCASTD(v.AsX(), v)
		return v
	}
	model, least, most, ground := all("model"), all("least"), all("most"), all("ground")
	groups, done := argument("groups"), GP64()
	XORQ(done, done)
	zero := YMM()
	VPXOR(zero, zero, zero)

	Label("group")
	a, b, low, high := YMM(), YMM(), YMM(), YMM()
	VMOVDQU(Mem{Base: words}, a)
	VMOVDQU(Mem{Base: words, Disp: 32}, b)
	VSHUFPS(U8(0x88), b, a, low)
	VSHUFPS(U8(0xdd), b, a, high)
	VPERMQ(U8(0xd8), low, low)
	VPERMQ(U8(0xd8), high, high)
	empty, code, t, u := YMM(), YMM(), YMM(), YMM()
	VPOR(low, high, empty)
	VPCMPEQD(zero, empty, empty)
	VPSRLD(U8(16), low, code)
	VPMAXUD(least, code, t)
	VPMINUD(most, t, t)
	VPCMPEQD(code, t, t)
	VPAND(sixBits, low, u)
	VPCMPEQD(model, u, u)
	VPAND(u, t, t)
	VPOR(empty, t, t)
	good := GP32()
	VMOVMSKPS(t, good)
	CMPL(good, U32(0xff))
	JNE(LabelRef("end"))

	color, upper := YMM(), XMM()
	for part, x := range []Register{color.AsX(), upper} {
		for i := range 4 {
			c := GP32()
			MOVWLZX(Mem{Base: words, Disp: 32*part + 8*i + 2}, c)
			m := Mem{Base: colors, Index: c.As64(), Scale: 4}
			if i == 0 {
				VMOVD(m, x)
			} else {
				VPINSRD(U8(i), m, x, x)
			}
		}
	}
	VINSERTI128(U8(1), upper, color, color)
	light := YMM()
	VPAND(tenBits, low, light)
	VPMULLD(lightPart, light, t)
	VPADDD(lightMore, t, t)
	VPMULLD(light25, t, t)
	VPSRLD(U8(17), t, t)
	VPMULLD(lightWhole, light, light)
	VPADDD(t, light, light)
	out := YMM()
	VMOVDQU(opaque, out)
	for k := range 3 {
		c := YMM()
		VPSRLD(U8(8*k), color, c)
		VPAND(channel, c, c)
		VPMULLD(light, c, c)
		VPSRLD(U8(18), c, c)
		VPMINUD(channel, c, c)
		if k > 0 {
			VPSLLD(U8(8*k), c, c)
		}
		VPOR(c, out, out)
	}
	VPBLENDVB(empty, ground, out, out)
	VMOVDQU(out, Mem{Base: pixels})
	VMOVDQU(high, Mem{Base: depth})
	VMOVDQU(zero, Mem{Base: words})
	VMOVDQU(zero, Mem{Base: words, Disp: 32})
	ADDQ(U8(64), words)
	ADDQ(U8(32), depth)
	ADDQ(U8(32), pixels)
	INCQ(done)
	CMPQ(done, groups)
	JL(LabelRef("group"))
	Label("end")
	Store(done, ReturnIndex(0))
	VZEROUPPER()
	RET()
}

// fetch asks for what is going to be drawn into.
func fetch() {
	TEXT("fetchAVX2", NOSPLIT, "func(words *uint64, stride int, wide int, rows int)")
	Doc("fetchAVX2 asks the cache for so many rows of wide words, stride words apart.")
	Pragma("noescape")
	words, stride, wide, rows := argument("words"), argument("stride"), argument("wide"), argument("rows")
	end := GP64()
	Label("rows")
	LEAQ(Mem{Base: words, Index: wide, Scale: 8, Disp: -8}, end)
	at := GP64()
	MOVQ(words, at)
	Label("lines")
	PREFETCHT0(Mem{Base: at})
	ADDQ(U8(64), at)
	CMPQ(at, end)
	JLS(LabelRef("lines"))
	PREFETCHT0(Mem{Base: end})
	LEAQ(Mem{Base: words, Index: stride, Scale: 8}, words)
	DECQ(rows)
	JNZ(LabelRef("rows"))
	RET()
}
