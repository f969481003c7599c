// Command mien tracks versions of athletes' scan assets and measures how a person's likeness changed.
package main

import "os"

func main() {
	os.Exit(run(os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
}
