// Command lyefast is a notebook for makers of cold-process soap, with a forecast
// of the colours in it.
//
// Each command has a file of its own: it turns flags into one call of the app
// package and shows what comes back, as text or as JSON. Data goes to standard
// output, everything else to standard error. Exit status: 0 done, 1 failure,
// 2 wrong usage, 3 not found, 4 findings at or above --fail-on.
package main

import "os"

func main() {
	os.Exit(run(os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
}
