//go:build !amd64

package shade

// Kernels exist for one kind of processor; on others nothing asks for them.
const vector = false

func projectAVX2(to *float64, by *uint64, add *int64, position *uint16, normal *int8, level *uint16, groups int) {
}

func coverAVX2(v *float64, corner *uint8, n int, stride int) (items, mediums, larges int) { return }

func spreadAVX2(v *float64, list *uint8, n int, stride int, items int) int { return 0 }

func pixelsAVX2(v *float64, corner *uint8, words *uint64, model uint64, n int) {}

func resolveAVX2(words *uint64, depth *uint32, pixels *uint8, colors *uint32, model uint32, least uint32, most uint32, ground uint32, groups int) int {
	return 0
}

func fetchAVX2(words *uint64, stride int, wide int, rows int) {}
