// Command shutcheck runs inspections without a window: it reads an inspection
// file, measures, writes tables, pictures and results.json, and says in its exit
// status whether everything conforms. `shutcheck --help` lists what it does.
package main

import "os"

func main() {
	if tooFewAddresses(os.Stderr) {
		os.Exit(exitSystem)
	}
	os.Exit(run(os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
}
