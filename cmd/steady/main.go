// Command steady is the reference controller: a supervisor for two or more
// battery inverters behind one grid connection. It knows Modbus and the bench
// file, and nothing else of the project. README.md describes what it does.
package main

import (
	"os"

	"kilter/cmd/steady/control"
)

func main() {
	os.Exit(control.Main(os.Args[1:], os.Stderr))
}
