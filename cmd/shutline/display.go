package main

import (
	"errors"
	"fmt"
	"net"
	"os"
	"runtime"
	"strings"
	"time"
)

// checkDisplay returns an error, in words, when no window can be opened: the
// toolkit would end the program without any.
func checkDisplay() error {
	if runtime.GOOS != "linux" && !strings.HasSuffix(runtime.GOOS, "bsd") {
		return nil
	}
	display := os.Getenv("DISPLAY")
	if display == "" {
		return errors.New("there is no display to open a window on (DISPLAY is not set): start it on a desktop, or use shutcheck inspect FILE.toml --out DIR, which does the same work headless")
	}
	if err := reach(display); err != nil {
		return fmt.Errorf("the display %s does not answer (%w): check DISPLAY, or use shutcheck inspect FILE.toml --out DIR, which does the same work headless", display, err)
	}
	return nil
}

// reach tries whether an X server listens at a display's name, as X(7) describes it.
func reach(display string) error {
	host, rest, ok := strings.Cut(display, ":")
	if !ok || rest == "" {
		return errors.New("it is not a display's name, as :0 is one")
	}
	number, _, _ := strings.Cut(rest, ".")
	const patience = 3 * time.Second
	if host == "" || strings.HasPrefix(host, "unix") {
		// A server listens on the abstract socket of the same name, or on the file.
		path := "/tmp/.X11-unix/X" + number
		var err error
		for _, at := range []string{path, "@" + path} {
			var c net.Conn
			if c, err = net.DialTimeout("unix", at, patience); err == nil {
				return c.Close()
			}
		}
		return err
	}
	port := 0
	if _, err := fmt.Sscan(number, &port); err != nil {
		return errors.New("it is not a display's name, as :0 is one")
	}
	c, err := net.DialTimeout("tcp", fmt.Sprintf("%s:%d", host, 6000+port), patience)
	if err != nil {
		return err
	}
	return c.Close()
}
