package meshio

import (
	"errors"
	"io/fs"
	"syscall"
)

// ERROR_SHARING_VIOLATION and ERROR_LOCK_VIOLATION of winerror.h.
const sharingViolation, lockViolation = syscall.Errno(32), syscall.Errno(33)

func heldByAnother(err error) bool {
	return errors.Is(err, sharingViolation) || errors.Is(err, lockViolation)
}

func keptByAnother(err error) bool { return heldByAnother(err) || errors.Is(err, fs.ErrPermission) }
