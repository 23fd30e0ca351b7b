package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"kilter/suites/falsify"
)

// summaryFile is what each search leaves, an interrupted one too.
const summaryFile = "falsify.json"

// folder settles where to write. What was played there stays only where the search is to go on.
func (f *falsifier) folder() error {
	if f.out == "" {
		var err error
		f.out, err = runFolder("")
		f.made = true
		return err
	}
	list, err := os.ReadDir(f.out)
	missing := errors.Is(err, os.ErrNotExist)
	switch {
	case !f.resume && (missing || err == nil && len(list) == 0):
		f.made = missing
		f.out, err = runFolder(f.out)
		return err
	case f.resume && (missing || err == nil && !searched(list)):
		return fmt.Errorf("--out %s: there is no search in this folder that could be gone on with", f.out)
	case err != nil:
		return fmt.Errorf("--out %s: %w", f.out, err)
	case !searched(list):
		return fmt.Errorf("--out %s: the folder holds other things; give an empty or a new one", f.out)
	case !f.resume:
		return fmt.Errorf("--out %s: a search is in this folder; go on with it by --resume, or give an empty or a new one", f.out)
	}
	return nil
}

// forgetCases drops the counterexamples of an earlier search in the folder, behind so many that are new.
func (f *falsifier) forgetCases(n int) error {
	for i := n; ; i++ {
		if err := os.Remove(filepath.Join(f.out, falsify.CaseFile(i))); errors.Is(err, os.ErrNotExist) {
			return nil
		} else if err != nil {
			return err
		}
	}
}

// abandon leaves nothing of a search that never began.
func (f *falsifier) abandon() {
	if f.begun || f.resume {
		return
	}
	os.RemoveAll(filepath.Join(f.out, queueFolder))
	if f.made {
		os.Remove(f.out)
	}
}

// searched says whether a folder's entries are a search's. One that was killed has left nothing, or its queue, with cases that it found.
func searched(list []fs.DirEntry) bool {
	queue, others := false, 0
	for _, e := range list {
		switch {
		case e.Name() == summaryFile:
			return true
		case e.Name() == queueFolder:
			queue = true
		case !strings.HasPrefix(e.Name(), "counterexample-"):
			others++
		}
	}
	return len(list) == 0 || queue && others == 0
}
