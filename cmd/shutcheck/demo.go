package main

func (c *command) demo(a *arguments) error {
	if len(a.files) > 0 {
		return usage("demo takes no file (%q); it writes its own: shutcheck demo --out DIR", a.files[0])
	}
	return nil
}
