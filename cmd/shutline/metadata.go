package main

import "fyne.io/fyne/v2"

// The program's metadata, the same as in FyneApp.toml; a test compares them.
const (
	appID      = "app.shutline.bench"
	appName    = "Shutline"
	appVersion = "0.1.0"
	appBuild   = 1
)

func metadata() fyne.AppMetadata {
	return fyne.AppMetadata{ID: appID, Name: appName, Version: appVersion, Build: appBuild, Migrations: map[string]bool{"fyneDo": true}}
}
