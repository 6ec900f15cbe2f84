package pages

import (
	"math"
	"os"
	"path/filepath"
	"runtime/debug"
	"testing"

	"github.com/stretchr/testify/require"
)

func write(t *testing.T, root string, files map[string]string) {
	for name, text := range files {
		path := filepath.Join(root, name)
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
		require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
	}
}

// The forms are those of the kernel's Documentation/filesystems/proc.rst and admin-guide/cgroup-v1 and -v2.
func TestBoundsAreReadAsTheKernelWritesThem(t *testing.T) {
	root := t.TempDir()
	require.Empty(t, groups(root, 0), "nothing is known")
	write(t, root, map[string]string{
		"proc/meminfo":                                             "MemTotal:       24684456 kB\nMemFree:        22018412 kB\nMemAvailable:   23787520 kB\nSwapTotal:       2097148 kB\nSwapFree:        1000000 kB\n",
		"proc/self/statm":                                          "1000 200 100 10 0 300 0\n",
		"proc/self/cgroup":                                         "0::/user.slice/session-2.scope\n",
		"sys/fs/cgroup/user.slice/memory.max":                      "4294967296\n",
		"sys/fs/cgroup/user.slice/memory.current":                  "1294967296\n",
		"sys/fs/cgroup/user.slice/memory.swap.max":                 "0\n",
		"sys/fs/cgroup/user.slice/memory.stat":                     "anon 5\ninactive_file 1000\nactive_file 7\n",
		"sys/fs/cgroup/user.slice/session-2.scope/memory.max":      "max\n",
		"sys/fs/cgroup/user.slice/session-2.scope/memory.current":  "1000\n",
		"sys/fs/cgroup/user.slice/session-2.scope/memory.swap.max": "max\n",
		"sys/fs/cgroup/memory/docker/1/memory.limit_in_bytes":      "2000\n",
		"sys/fs/cgroup/memory/docker/1/memory.usage_in_bytes":      "500\n",
		"sys/fs/cgroup/memory/docker/1/memory.stat":                "inactive_file 1\ntotal_inactive_file 100\n",
		"sys/fs/cgroup/memory/memory.limit_in_bytes":               "9223372036854771712\n",
		"sys/fs/cgroup/memory/memory.usage_in_bytes":               "500\n",
	})
	list := bounds(root)
	require.Equal(t, bound{left: 1024 * (23787520 + 1000000), of: "this machine"}, list[0])
	require.Equal(t, []bound{{left: 3_000_000_000 + 1000, of: "the memory limit of this session or container"}}, groups(root, 1024*1000000))
	write(t, root, map[string]string{"proc/self/cgroup": "12:cpu,cpuacct:/docker/1\n5:memory:/docker/1\n0::/\n"})
	require.Equal(t, []bound{{left: 1600 + 50, of: "the memory limit of this session or container"}}, groups(root, 50))
}

func TestWhatIsLeftIsKnownHere(t *testing.T) {
	before, ok := Left()
	require.True(t, ok)
	require.Positive(t, before.Bytes)
	require.NotEmpty(t, before.Of)
}

// The heap's limit gives way to working memory outside it while that is held.
func TestWorkingMemoryCountsBesideTheHeap(t *testing.T) {
	t.Cleanup(func() {
		tight.limit = 0
		debug.SetMemoryLimit(math.MaxInt64)
	})
	const bytes = 64 << 20
	early := NewScratch[byte](bytes, bytes)
	require.Equal(t, int64(math.MaxInt64), debug.SetMemoryLimit(-1), "nothing is held to yet")
	Tighten()
	before := debug.SetMemoryLimit(-1)
	require.Less(t, before, int64(math.MaxInt64))
	more := NewScratch[byte](bytes, 2*bytes)
	require.Equal(t, before-bytes, debug.SetMemoryLimit(-1), "what is never touched is not held")
	early.Release()
	require.Equal(t, before, debug.SetMemoryLimit(-1))
	more.Release()
	more.Release()
	require.Equal(t, before+bytes, debug.SetMemoryLimit(-1))
}
