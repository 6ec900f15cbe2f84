package meshio

import (
	"encoding/binary"
	"fmt"
	"math"
	"strings"
)

// gltfValues reads an accessor's values from the binary chunk.
type gltfValues struct {
	*gltfAccessor
	data       []byte // from the first value on
	stride     int
	components int
}

// componentBytes are the sizes of glTF's component types.
var componentBytes = map[int]int{5120: 1, 5121: 1, 5122: 2, 5123: 2, 5125: 4, componentFloat: 4}

// typeComponents are the types used; matrices hold nothing of a mesh.
var typeComponents = map[string]int{"SCALAR": 1, "VEC2": 2, "VEC3": 3, "VEC4": 4}

// accessor returns accessor k after checking that all it promises is there.
func (p *gltfPart) accessor(k int, name string) (*gltfValues, error) {
	if k < 0 || k >= len(p.doc.Accessors) {
		return nil, p.fault(p.where, "its %s names accessor %d, but there are %s; it is damaged: export or copy it again", name, k, count(len(p.doc.Accessors)))
	}
	a := &gltfValues{gltfAccessor: &p.doc.Accessors[k]}
	wrong := func(format string, args ...any) (*gltfValues, error) {
		at := atByte(p.at).of("accessor %d", k)
		return nil, p.fault(at, format+"; it is damaged: export or copy it again", args...)
	}
	size := componentBytes[a.ComponentType]
	a.components = typeComponents[a.Type]
	switch {
	case size == 0:
		return wrong("its component type %d is none of glTF's", a.ComponentType)
	case a.components == 0:
		return wrong("its type %s is not SCALAR, VEC2, VEC3 or VEC4", excerpt([]byte(a.Type)))
	case a.Sparse != nil:
		return nil, p.fault(atByte(p.at).of("accessor %d", k), "it is sparse (some values replaced by others), which is not supported; export it without")
	case a.BufferView == nil:
		if _, ok := p.Extensions[draco]; ok {
			return nil, p.compressed(draco)
		}
		return wrong("it has no buffer view, so no values")
	case a.Count < 0 || a.Count > p.size:
		return wrong("it is said to have %s values, more than the file has bytes", count(a.Count))
	case *a.BufferView < 0 || *a.BufferView >= len(p.doc.BufferViews):
		return nil, p.missing(fmt.Sprintf("accessor %d", k), "buffer view", *a.BufferView, len(p.doc.BufferViews))
	}
	view, err := p.view(*a.BufferView)
	if err != nil {
		return nil, err
	}
	element := size * a.components
	a.stride = element
	if s := p.doc.BufferViews[*a.BufferView].ByteStride; s != nil {
		if a.stride = *s; a.stride < element || a.stride > 252 {
			return wrong("its values of %d bytes do not fit a stride of %d", element, *s)
		}
	}
	if a.ByteOffset < 0 || a.ByteOffset > len(view) {
		return wrong("it begins at byte %s of a buffer view of %s", count(a.ByteOffset), count(len(view)))
	}
	a.data = view[a.ByteOffset:]
	if a.Count > 0 && (a.Count-1)*a.stride+element > len(a.data) {
		return wrong("its %s values take %s bytes, but its buffer view has %s for them", count(a.Count), count((a.Count-1)*a.stride+element), count(len(a.data)))
	}
	return a, nil
}

// view returns the bytes of a buffer view.
func (g *gltf) view(k int) ([]byte, error) {
	v := &g.doc.BufferViews[k]
	where := atByte(g.at).of("buffer view %d", k)
	for name := range v.Extensions {
		if strings.HasSuffix(name, meshoptSuffix) {
			return nil, g.compressed(name)
		}
	}
	if v.Buffer < 0 || v.Buffer >= len(g.doc.Buffers) {
		return nil, g.missing(where.what, "buffer", v.Buffer, len(g.doc.Buffers))
	}
	b := &g.doc.Buffers[v.Buffer]
	if b.URI != nil || v.Buffer > 0 {
		return nil, g.fault(where, "its data stand outside the GLB file, which is not supported; export it as one .glb with everything inside")
	}
	if b.ByteLength < 0 || b.ByteLength > len(g.bin) {
		return nil, g.fault(atByte(g.at).of("buffer 0"), "it is said to have %s bytes, but the binary chunk has %s; the file was cut short or is damaged: export or copy it again", count(b.ByteLength), count(len(g.bin)))
	}
	if v.ByteOffset < 0 || v.ByteLength < 0 || v.ByteOffset > b.ByteLength || v.ByteLength > b.ByteLength-v.ByteOffset {
		return nil, g.fault(where, "its %s bytes from byte %s on reach beyond its buffer of %s; it is damaged: export or copy it again", count(v.ByteLength), count(v.ByteOffset), count(b.ByteLength))
	}
	return g.bin[v.ByteOffset : v.ByteOffset+v.ByteLength], nil
}

// value returns component c of value i; normalized whole numbers are shares of 1 (glTF 2.0, section 3.6.2.2).
func (a *gltfValues) value(i, c int) float64 {
	b := a.data[i*a.stride:]
	var x, most float64
	switch a.ComponentType {
	case 5120:
		x, most = float64(int8(b[c])), math.MaxInt8
	case 5121:
		x, most = float64(b[c]), math.MaxUint8
	case 5122:
		x, most = float64(int16(binary.LittleEndian.Uint16(b[2*c:]))), math.MaxInt16
	case 5123:
		x, most = float64(binary.LittleEndian.Uint16(b[2*c:])), math.MaxUint16
	case 5125:
		x, most = float64(binary.LittleEndian.Uint32(b[4*c:])), math.MaxUint32
	default:
		return float64(math.Float32frombits(binary.LittleEndian.Uint32(b[4*c:])))
	}
	if a.Normalized {
		return max(x/most, -1)
	}
	return x
}
