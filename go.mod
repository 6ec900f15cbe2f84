module shutline

go 1.26.0

require (
	fyne.io/fyne/v2 v2.7.1 // indirect
	github.com/google/go-cmp v0.7.0 // indirect
	github.com/hschendel/stl v1.0.4 // indirect
	github.com/pelletier/go-toml/v2 v2.4.3 // indirect
	github.com/stretchr/testify v1.12.1 // indirect
	golang.org/x/image v0.47.0 // indirect
	golang.org/x/sys v0.50.0 // indirect
	gonum.org/v1/gonum v0.17.0 // indirect
	pgregory.net/rapid v1.3.0 // indirect
)
