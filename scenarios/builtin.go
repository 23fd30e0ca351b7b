package scenarios

import (
	"embed"
	"os"
	"slices"
	"strings"
)

// Built-in sites and stories are files like any other, read by the same reader.
//
//go:embed builtin
var builtinFiles embed.FS

// builtinMark begins the name of every built-in file, in messages too. No file on
// disk that a scenario names begins like this.
const builtinMark = "built-in:"

// BuiltinNames lists the built-in scenarios in alphabetical order.
func BuiltinNames() []string { return builtinList("stories") }

// BuiltinSites lists the built-in sites in alphabetical order.
func BuiltinSites() []string { return builtinList("sites") }

// Builtin reads a built-in scenario.
func Builtin(name string) (*Scenario, error) {
	file := builtinMark + "stories/" + name + ".yaml"
	data := builtinText(file)
	if data == nil {
		wanted, hint := unknownWord(name, BuiltinNames())
		return nil, fault(spot{file: name}, "no built-in scenario of this name and no such file", wanted, hint)
	}
	return ParseScenario(file, data)
}

// BuiltinSite reads a built-in site.
func BuiltinSite(name string) (*Site, error) {
	data := builtinText(builtinSiteFile(name))
	if data == nil {
		wanted, hint := unknownWord(name, BuiltinSites())
		return nil, fault(spot{file: name}, "no built-in site of this name", wanted, hint)
	}
	return parseSite(builtinSiteFile(name), data)
}

func builtinSiteFile(name string) string { return builtinMark + "sites/" + name + ".yaml" }

func isBuiltinFile(file string) bool { return strings.HasPrefix(file, builtinMark) }

// sentMark begins the name of every text that came from elsewhere, in messages too.
const sentMark = "sent:"

// namesFiles says whether what stands in a file may name others.
func namesFiles(file string) bool { return !isBuiltinFile(file) && !strings.HasPrefix(file, sentMark) }

// builtinText gives a built-in file's text, or nil.
func builtinText(file string) []byte {
	data, err := builtinFiles.ReadFile("builtin/" + strings.TrimPrefix(file, builtinMark))
	if err != nil {
		return nil
	}
	return data
}

// builtinList names the files of a folder without their extension.
func builtinList(folder string) []string {
	files, err := builtinFiles.ReadDir("builtin/" + folder)
	if err != nil {
		return nil
	}
	names := make([]string, len(files))
	for i, f := range files {
		names[i] = strings.TrimSuffix(f.Name(), ".yaml")
	}
	slices.Sort(names)
	return names
}

func exists(path string) bool {
	_, err := os.Stat(path)
	return err == nil
}
