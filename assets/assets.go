// Package assets holds the files that are built into the programs: the icon and
// the texts in every language.
package assets

import "embed"

// Icon is the program's icon, PNG, 512 by 512 pixels.
//
//go:embed icon.png
var Icon []byte

// Languages holds the texts, one JSON file a language, under lang.
//
//go:embed lang
var Languages embed.FS
