package meshio

import (
	"context"
	"encoding/binary"
	"math/bits"
	"math/rand/v2"
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

// Corners chosen so that the plain product would be zero fall on one slot; with seeds that a file cannot know they are
// spread over the table in nearly every process. One draw says little: of 1000 corners on 1024 slots 20,000 draws
// took 759 in the median, fewer than 390 in one of ten.
func TestHashesCannotBeForeseen(t *testing.T) {
	require.NotZero(t, bits.OnesCount64(seeds[0]))
	own := seeds
	t.Cleanup(func() { seeds = own })

	spread := func() int {
		met := map[uint64]bool{}
		for z := range uint32(1000) {
			met[hashCorner(mixA, z)>>54] = true
		}
		return len(met)
	}
	seeds = [2]uint64{mixA, 0}
	require.Equal(t, 1, spread(), "foreseen")

	draw := rand.New(rand.NewPCG(1, 2))
	wide := 0
	for range 100 {
		seeds = [2]uint64{draw.Uint64(), draw.Uint64()}
		if spread() > 390 {
			wide++
		}
	}
	require.Greater(t, wide, 75)
}
