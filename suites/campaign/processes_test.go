package campaign_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/suites/campaign"
)

// frail is this test binary as a process that falls over at its first run, as long as there are lives in a file.
func frail(lives string) {
	text, err := os.ReadFile(lives)
	if err != nil {
		panic(err)
	}
	if len(text) == 0 {
		if err := campaign.PlayFor(os.Stdin, os.Stdout); err != nil {
			panic(err)
		}
		return
	}
	if err := os.WriteFile(lives, text[1:], 0o644); err != nil {
		panic(err)
	}
	lines := json.NewDecoder(os.Stdin)
	for range 2 { // the player and the first run
		var line json.RawMessage
		if err := lines.Decode(&line); err != nil {
			panic(err)
		}
	}
	fmt.Fprintf(os.Stderr, "fell over\nand more\n")
	os.Exit(9)
}

// parent is this test binary as one that has a run played which comes on standard input.
func parent(command string) {
	body, err := io.ReadAll(os.Stdin)
	if err != nil {
		panic(err)
	}
	self, err := os.Executable()
	if err != nil {
		panic(err)
	}
	s := campaign.NewProcesses(&campaign.Player{Self: []string{self}, Allowed: []string{command}, Own: true}, 1)
	_, err = s.Work(context.Background(), body)
	panic(err)
}

var _ = Describe("runs in processes of their own", func() {
	body := func(r campaign.Run) []byte {
		GinkgoHelper()
		text, err := json.Marshal(r)
		Expect(err).NotTo(HaveOccurred())
		return text
	}
	among := func(p *campaign.Player, slots int) *campaign.Processes {
		s := campaign.NewProcesses(p, slots)
		DeferCleanup(s.Close)
		return s
	}
	within := func() context.Context {
		ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
		DeferCleanup(cancel)
		return ctx
	}

	It("come to what they come to in this process, byte for byte", func() {
		s := among(player(), 1)
		for _, r := range []campaign.Run{run("calm-start", campaign.Controller{Policy: "none"}), run("ev-start", campaign.Controller{Policy: "steady"})} {
			here, err := player().Work(within(), body(r))
			Expect(err).NotTo(HaveOccurred())
			there, err := s.Work(within(), body(r))
			Expect(err).NotTo(HaveOccurred())
			Expect(string(there)).To(Equal(string(here)))
		}
	})

	It("say what is wrong with a run as the player does", func() {
		s := among(player(), 1)
		_, err := s.Work(within(), []byte("{"))
		Expect(err).To(MatchError(ContainSubstring("a run that cannot be read")))
		_, err = s.Work(within(), body(run("calm-start", campaign.Controller{Command: "mine"})))
		Expect(err).To(MatchError(ContainSubstring(`the command "mine" is not allowed here`)))
	})

	DescribeTable("where its process dies", func(lives string, check func(err error)) {
		file := filepath.Join(GinkgoT().TempDir(), "lives")
		Expect(os.WriteFile(file, []byte(lives), 0o644)).To(Succeed())
		p := player()
		p.Self = append(p.Self, "frail", file)
		s := among(p, 1)
		_, err := s.Work(within(), body(run("calm-start", campaign.Controller{Policy: "none"})))
		check(err)
		Expect(os.WriteFile(file, nil, 0o644)).To(Succeed())
		_, err = s.Work(within(), body(run("calm-start", campaign.Controller{Policy: "none"})))
		Expect(err).NotTo(HaveOccurred(), "and the slot plays on")
	},
		Entry("a run is played once more", "x", func(err error) { Expect(err).NotTo(HaveOccurred()) }),
		Entry("twice, the run is an error that tells how", "xxx", func(err error) {
			Expect(err).To(MatchError("the process that played it ended before it did: exit status 9, and said fell over"))
		}),
	)

	It("are cut short, and leave no controller", func() {
		note := filepath.Join(GinkgoT().TempDir(), "pid")
		self, err := os.Executable()
		Expect(err).NotTo(HaveOccurred())
		command := self + " linger " + note
		s := among(player(command), 1)
		ctx, stop := context.WithCancel(within())
		ended := make(chan error, 1)
		go func() {
			_, err := s.Work(ctx, body(run("calm-start", campaign.Controller{Command: command})))
			ended <- err
		}()
		pid := waitForPID(note)
		stop()
		Eventually(ended).WithTimeout(30 * time.Second).Should(Receive(MatchError(context.Canceled)))
		expectGone(pid)
		_, err = s.Work(within(), body(run("calm-start", campaign.Controller{Policy: "none"})))
		Expect(err).NotTo(HaveOccurred(), "and the slot plays on")
	})

	It("leave no controller where the process that wanted them is killed", func() {
		note := filepath.Join(GinkgoT().TempDir(), "pid")
		self, err := os.Executable()
		Expect(err).NotTo(HaveOccurred())
		cmd := exec.Command(self, "parent", self+" linger "+note)
		cmd.Stderr = GinkgoWriter
		cmd.Stdin = bytes.NewReader(body(run("calm-start", campaign.Controller{Command: self + " linger " + note})))
		Expect(cmd.Start()).To(Succeed())
		pid := waitForPID(note)
		Expect(cmd.Process.Kill()).To(Succeed())
		_ = cmd.Wait()
		expectGone(pid)
	})

	DescribeTable("refuses to play for nobody", func(in, says string) {
		Expect(campaign.PlayFor(strings.NewReader(in), GinkgoWriter)).To(MatchError(ContainSubstring(says)))
	},
		Entry("without a line", "", "found no player on standard input: EOF"),
		Entry("with another line", "{}\n", "found no player in the first line"),
	)
})
