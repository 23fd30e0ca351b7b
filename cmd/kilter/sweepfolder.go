package main

import (
	"bytes"
	"context"
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"

	"github.com/spf13/cobra"

	"kilter/suites"
	"kilter/suites/campaign"
	"kilter/suites/sweep"
	"kilter/suites/verdict"
)

// campaignFile names the campaign of a folder, so that it can be gone on with.
const campaignFile = "campaign.json"

// campaignHead is what it says: under which name the results are kept, and which program played them.
type campaignHead struct {
	Tool     string `json:"tool"`
	Campaign string `json:"campaign"`
	Build    string `json:"build"`
}

// file is the path of a file in the folder.
func (s *sweeper) file(name string) string { return filepath.Join(s.folder, name) }

// claim takes the folder, and returns the name of its campaign.
func (s *sweeper) claim() (string, error) {
	s.folder = s.out
	if s.resume {
		return s.claimed()
	}
	if s.out == "" {
		var err error
		if s.folder, err = runFolder(""); err != nil {
			return "", err
		}
		s.made = true
	}
	list, err := os.ReadDir(s.folder)
	switch {
	case errors.Is(err, os.ErrNotExist):
		if err := makeFolder(os.MkdirAll, s.folder); err != nil {
			return "", err
		}
		s.made = true
	case err != nil:
		return "", fmt.Errorf("--out: %w", err)
	case len(list) > 0:
		if _, err := os.Stat(s.file(campaignFile)); err == nil {
			return "", fmt.Errorf("--out %s: a sweep is in this folder; go on with it by --resume, or give an empty or a new one", s.out)
		}
		return "", fmt.Errorf("--out %s: the folder holds other things; give an empty or a new one", s.out)
	}
	head := campaignHead{sweep.Tool, "sweep-" + rand.Text(), campaign.Build()}
	text, err := json.MarshalIndent(head, "", "  ")
	if err != nil {
		return "", err
	}
	return head.Campaign, suites.WriteWhole(s.file(campaignFile), append(text, '\n'))
}

// abandon leaves nothing of a sweep that never began, so that the same command without its mistake finds the folder free.
func (s *sweeper) abandon() {
	if s.begun || s.resume {
		return
	}
	os.Remove(s.file(campaignFile))
	os.RemoveAll(s.file(queueFolder))
	if s.made {
		os.Remove(s.folder)
	}
}

// claimed goes on with what is in the folder.
func (s *sweeper) claimed() (string, error) {
	text, err := os.ReadFile(s.file(campaignFile))
	if errors.Is(err, os.ErrNotExist) {
		return "", fmt.Errorf("--out %s: there is no sweep in this folder that could be gone on with", s.out)
	}
	if err != nil {
		return "", fmt.Errorf("--out %s: %w", s.out, err)
	}
	var head campaignHead
	if err := json.Unmarshal(text, &head); err != nil || head.Tool != sweep.Tool || head.Campaign == "" {
		return "", fmt.Errorf("%s: found something else than the name of a sweep", s.file(campaignFile))
	}
	if head.Build != campaign.Build() {
		return "", fmt.Errorf("--out %s: it was begun by another kilter (%s, and this is %s), whose results may differ; begin anew in another folder", s.out, head.Build, campaign.Build())
	}
	return head.Campaign, nil
}

// atOnce is how many runs are handed to the queue at a time: enough for many workers, and few enough to be quickly looked through.
const atOnce = 2000

// play plays cases, except those whose results are there.
func (s *sweeper) play(cmd *cobra.Command, cases []sweep.Case) error {
	from := len(s.cases)
	s.cases = append(s.cases, cases...)
	s.results = append(s.results, make([]*campaign.Result, len(cases))...)
	t := newTally(len(cases), func() int { return len(s.session.Workers()) })
	err := s.playMissing(cmd.Context(), t, from)
	played, rate := t.end()
	if err != nil {
		return s.interrupted(cmd, err)
	}
	told := ""
	if played > 0 {
		told = fmt.Sprintf(", %.3g a second", rate)
	}
	if played += s.before; played > 0 {
		fmt.Fprintf(cmd.ErrOrStderr(), "%d of %d runs played%s\n", played, len(cases), told)
	}
	s.before = 0
	return nil
}

func (s *sweeper) playMissing(ctx context.Context, t *tally, from int) error {
	var missing []int
	for i := from; i < len(s.cases); i++ {
		known, err := s.session.Known(&s.cases[i].Run)
		if err != nil {
			return err
		}
		if known == nil {
			missing = append(missing, i)
			continue
		}
		s.results[i] = known
		t.known(known)
	}
	for part := range slices.Chunk(missing, atOnce) {
		runs := make([]campaign.Run, len(part))
		for k, i := range part {
			runs[k] = s.cases[i].Run
		}
		if _, err := s.session.Do(ctx, runs, func(k int, r *campaign.Result) {
			s.results[part[k]] = r
			t.see(r)
		}); err != nil {
			return err
		}
	}
	return nil
}

// interrupted says how to go on, where somebody has ended it.
func (s *sweeper) interrupted(cmd *cobra.Command, err error) error {
	if cmd.Context().Err() == nil {
		return err
	}
	return coded{exitUsage, fmt.Errorf("interrupted after %s; what was played is kept, and the same command with --out %s --resume goes on",
		verdict.Counted(s.session.Done(), "run"), quote(s.folder))}
}

// storyFile is what the recommended setting makes of a story, where it varies the scenario.
func storyFile(story *sweep.Story) string {
	return filepath.Join("recommended", story.Name+".yaml")
}

// write writes the results into the folder.
func (s *sweeper) write(m *sweep.Summary) error {
	text, err := m.JSON()
	if err != nil {
		return err
	}
	var table bytes.Buffer
	if err := s.plan.WriteTable(&table, s.cases, s.results); err != nil {
		return err
	}
	var page bytes.Buffer
	if err := s.plan.WritePage(&page, m, s.cases, s.results); err != nil {
		return err
	}
	files := map[string][]byte{"sweep.json": text, "sweep.parquet": table.Bytes(), "sweep.html": page.Bytes()}
	changed, err := s.plan.Changed(m.Recommended.Point)
	if err != nil {
		return err
	}
	for i, text := range changed {
		files[storyFile(s.plan.Stories[i])] = []byte(text)
	}
	for name, text := range files {
		if err := makeFolder(os.MkdirAll, filepath.Dir(s.file(name))); err != nil {
			return err
		}
		if err := suites.WriteWhole(s.file(name), text); err != nil {
			return err
		}
	}
	return nil
}

// tell writes the table for people.
func (s *sweeper) tell(cmd *cobra.Command, m *sweep.Summary) error {
	out := cmd.OutOrStdout()
	if err := m.Table(out); err != nil {
		return err
	}
	_, err := io.WriteString(out, "results: "+s.folder+"\n")
	return err
}
