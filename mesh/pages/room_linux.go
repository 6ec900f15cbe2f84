package pages

import (
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
)

// noLimit is beyond every machine; version 1 of control groups writes such a number for none.
const noLimit = int64(1) << 60

// bounds reads what the kernel tells of memory, under a root other than "/" for tests.
func bounds(root string) (list []bound) {
	info := fields(filepath.Join(root, "proc/meminfo"))
	swap := 1024 * info["SwapFree"]
	if free, ok := info["MemAvailable"]; ok {
		list = append(list, bound{left: 1024*free + swap, of: "this machine"})
	}
	list = append(list, groups(root, swap)...)
	var limit syscall.Rlimit
	if syscall.Getrlimit(syscall.RLIMIT_AS, &limit) == nil && limit.Cur < uint64(noLimit) {
		pages, _, _ := strings.Cut(text(filepath.Join(root, "proc/self/statm")), " ")
		if n, err := strconv.ParseInt(pages, 10, 64); err == nil {
			list = append(list, bound{left: int64(limit.Cur) - n*int64(os.Getpagesize()), of: "ulimit -v", addresses: true})
		}
	}
	return list
}

// groups reads the limits of the control groups that the process is in, from its own up to the root. In a container its path
// may lie outside of what is seen; the root is then its own.
func groups(root string, swap int64) (list []bound) {
	for line := range strings.Lines(text(filepath.Join(root, "proc/self/cgroup"))) {
		part := strings.SplitN(strings.TrimSpace(line), ":", 3)
		if len(part) < 3 {
			continue
		}
		base, most, now, inactive := "sys/fs/cgroup", "memory.max", "memory.current", "inactive_file"
		switch {
		case part[1] == "memory":
			base, most, now, inactive = "sys/fs/cgroup/memory", "memory.limit_in_bytes", "memory.usage_in_bytes", "total_inactive_file"
		case part[1] != "":
			continue
		}
		for at := filepath.Clean("/" + part[2]); ; at = filepath.Dir(at) {
			dir := filepath.Join(root, base, at)
			limit, hasLimit := amount(filepath.Join(dir, most))
			used, hasUsed := amount(filepath.Join(dir, now))
			if hasLimit && hasUsed && limit < noLimit {
				left := limit - used + fields(filepath.Join(dir, "memory.stat"))[inactive]
				if more, ok := amount(filepath.Join(dir, "memory.swap.max")); ok {
					paged, _ := amount(filepath.Join(dir, "memory.swap.current"))
					left += max(0, min(swap, more-paged))
				} else {
					left += swap
				}
				list = append(list, bound{left: left, of: "the memory limit of this session or container"})
			}
			if at == "/" {
				break
			}
		}
	}
	return list
}

func text(path string) string {
	data, _ := os.ReadFile(path) // what cannot be read tells nothing
	return strings.TrimSpace(string(data))
}

// amount reads a file of one number; "max" is none.
func amount(path string) (int64, bool) {
	s := text(path)
	if s == "max" {
		return math.MaxInt64, true
	}
	n, err := strconv.ParseInt(s, 10, 64)
	return n, err == nil
}

// fields reads lines of a name and a number, with or without a colon and a unit.
func fields(path string) map[string]int64 {
	out := map[string]int64{}
	for line := range strings.Lines(text(path)) {
		part := strings.Fields(line)
		if len(part) < 2 {
			continue
		}
		if n, err := strconv.ParseInt(part[1], 10, 64); err == nil {
			out[strings.TrimSuffix(part[0], ":")] = n
		}
	}
	return out
}
