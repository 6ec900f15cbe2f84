package meshio

import (
	"errors"
	"io/fs"
	"os"
	"strings"
)

// SystemWhy says why the system refused a file, without the operation and the path, which who says it names itself, and
// without the full stop that Windows ends its sentences with. What another program holds there is said so.
func SystemWhy(err error) string {
	err = systemError(err)
	if heldByAnother(err) {
		return "another program has it open"
	}
	return strings.TrimSuffix(err.Error(), ".")
}

// ReplaceWhy is SystemWhy for a file that was to be put in another's place: Windows then calls one that is open elsewhere not allowed.
func ReplaceWhy(err error) string {
	if err := systemError(err); keptByAnother(err) {
		return "it is open in another program, or nobody may change it"
	}
	return SystemWhy(err)
}

// HeldByAnother reports whether a file is refused because another program has it open.
func HeldByAnother(err error) bool {
	err = systemError(err)
	return heldByAnother(err)
}

func systemError(err error) error {
	var at *fs.PathError
	var link *os.LinkError
	switch {
	case errors.As(err, &at):
		return at.Err
	case errors.As(err, &link):
		return link.Err
	}
	return err
}
