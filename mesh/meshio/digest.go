package meshio

import (
	"crypto/sha256"
	"encoding/hex"
)

// digest is a SHA-256 that is computed beside the reading of a file.
type digest struct {
	done  chan struct{}
	sum   string
	err   error
	fault any // what the goroutine panicked with
}

// startDigest hashes the bytes of s in the background; wait must be called.
func startDigest(s *source) *digest {
	d := &digest{done: make(chan struct{})}
	go func() {
		defer close(d.done)
		defer func() { d.fault = recover() }()
		d.sum, d.err = s.digest()
	}()
	return d
}

// wait returns the sum as lower-case hex. A panic of the goroutine is raised again here.
func (d *digest) wait() (string, error) {
	<-d.done
	if d.fault != nil {
		panic(d.fault)
	}
	return d.sum, d.err
}

// digest reads and hashes the file block by block.
func (s *source) digest() (string, error) {
	h := sha256.New()
	buf := make([]byte, min(s.size, blockBytes))
	for lo := 0; lo < s.size; lo += blockBytes {
		if err := s.ctx.Err(); err != nil || s.failed.Load() {
			return "", err
		}
		b, err := s.block(buf, lo, min(s.size, lo+blockBytes))
		if err != nil {
			return "", err
		}
		h.Write(b)
		s.blocks.add(len(b))
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}
