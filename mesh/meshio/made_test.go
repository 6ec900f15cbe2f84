package meshio

import (
	"context"
	"encoding/binary"
	"math/bits"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// A file of more things than anybody exports is refused before any of them takes memory.
func TestGLBRefusesCountlessNodes(t *testing.T) {
	text := `{"asset":{"version":"2.0"},"nodes":[` + strings.Repeat("{},", maxObjects) + `{}]} `
	text += strings.Repeat(" ", -len(text)&3)
	data := []byte("glTF")
	data = binary.LittleEndian.AppendUint32(data, glbVersion)
	data = binary.LittleEndian.AppendUint32(data, uint32(glbHeader+chunkHead+len(text)))
	data = binary.LittleEndian.AppendUint32(data, uint32(len(text)))
	data = binary.LittleEndian.AppendUint32(data, chunkJSON)
	_, err := ReadBytes(context.Background(), "a.glb", append(data, text...), Options{})
	require.ErrorContains(t, err, "over the limit of 262,144")
}

// Corners chosen so that the plain product would be zero spread over the table all the same.
func TestHashesCannotBeForeseen(t *testing.T) {
	met := map[uint64]bool{}
	for z := range uint32(1000) {
		met[hashCorner(mixA, z)>>54] = true
	}
	require.Greater(t, len(met), 100, "with the product foreseen it would be one")
	require.NotZero(t, bits.OnesCount64(seeds[0]))
}
