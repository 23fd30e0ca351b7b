package campaign_test

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/scenarios"
	"kilter/suites/campaign"
	"kilter/suites/queue"
	"kilter/suites/verdict"
)

func player(allowed ...string) *campaign.Player {
	GinkgoHelper()
	self, err := os.Executable()
	Expect(err).NotTo(HaveOccurred())
	return &campaign.Player{Self: []string{self}, Allowed: allowed, Own: true}
}

// run is a short run of a built-in story with other values.
func run(name string, c campaign.Controller, changes ...scenarios.Change) campaign.Run {
	GinkgoHelper()
	sc, err := scenarios.Builtin(name)
	Expect(err).NotTo(HaveOccurred())
	form, err := scenarios.NewForm(sc)
	Expect(err).NotTo(HaveOccurred())
	text, err := form.Text(changes...)
	Expect(err).NotTo(HaveOccurred())
	return campaign.Run{Name: name, Scenario: string(text), Controller: c}
}

var _ = Describe("a run of a campaign", func() {
	It("is told the settings in its words and in its environment", func() {
		c := campaign.Controller{Command: "mine --gain {gain} --again={gain} {north.address}", Settings: []campaign.Setting{{"gain", "0.4 x"}, {"HOLD_S", "60"}}}
		words, environment, err := c.Filled()
		Expect(err).NotTo(HaveOccurred())
		Expect(words).To(Equal([]string{"mine", "--gain", "0.4 x", "--again=0.4 x", "{north.address}"}))
		Expect(environment).To(Equal([]string{"HOLD_S=60"}))
	})

	DescribeTable("refuses settings that nobody wants", func(c campaign.Controller, want string) {
		_, _, err := c.Filled()
		Expect(err).To(MatchError(ContainSubstring(want)))
	},
		Entry("no place", campaign.Controller{Policy: "steady", Settings: []campaign.Setting{{"gain", "1"}}}, "{gain} stands nowhere"),
		Entry("the program itself", campaign.Controller{Command: "{gain}", Settings: []campaign.Setting{{"gain", "rm"}}}, "{gain} stands nowhere"),
		Entry("where programs are", campaign.Controller{Command: "x", Settings: []campaign.Setting{{"PATH", "/"}}}, "must not set it"),
		Entry("no name", campaign.Controller{Command: "x", Settings: []campaign.Setting{{"a b", "/"}}}, "small letters"),
		Entry("neither", campaign.Controller{}, "either one that comes along or a command"),
		Entry("both", campaign.Controller{Policy: "none", Command: "x"}, "either one that comes along or a command"),
	)

	It("runs no command that is not allowed, word for word", func() {
		r := run("calm-start", campaign.Controller{Command: "true {x}", Settings: []campaign.Setting{{"x", "1"}}})
		_, err := player("true", "true 1").Play(context.Background(), &r)
		Expect(err).To(MatchError(ContainSubstring(`the command "true {x}" is not allowed here`)))
		Expect(player("true {x}").Offers()).To(ContainElement(campaign.Needs(&r.Controller)))
		Expect(player("true").Offers()).NotTo(ContainElement(campaign.Needs(&r.Controller)))
	})

	DescribeTable("keeps to simulating where it was sent", func(c campaign.Controller, more, want string) {
		r := run("calm-start", c)
		if strings.HasPrefix(more, "site:") {
			before, rest, _ := strings.Cut(r.Scenario, "site:\n")
			_, after, _ := strings.Cut(rest, "\nstarts:")
			r.Scenario, more = before+more+"starts:"+after, ""
		}
		r.Scenario += more
		sent := player("mine")
		sent.Own = false
		_, err := sent.Play(context.Background(), &r)
		Expect(err).To(MatchError(ContainSubstring(want)))
	},
		Entry("a variable that makes an interpreter run what it holds",
			campaign.Controller{Command: "mine", Settings: []campaign.Setting{{"BASH_ENV", "$(touch x)"}}}, "", "the variable BASH_ENV is not allowed here"),
		Entry("another bench", campaign.Controller{Policy: "steady --bench {x}", Settings: []campaign.Setting{{"x", "/etc/bench.json"}}}, "", `"--bench" is not allowed`),
		Entry("another bench in one word", campaign.Controller{Policy: "steady {x}", Settings: []campaign.Setting{{"x", "-bench=/etc/bench.json"}}}, "", "is not allowed"),
		Entry("a site in a file", campaign.Controller{Policy: "none"}, "site: /etc/passwd\n", "unknown site"),
		Entry("a sky in a file", campaign.Controller{Policy: "none"}, "sky:\n  file: /etc/passwd\n", "was sent"),
	)

	It("comes to the same result each time, with each clause apart", func() {
		r := run("ev-start", campaign.Controller{Policy: "steady --soc-apart {apart}", Settings: []campaign.Setting{{"apart", "6%"}}})
		first, err := player().Play(context.Background(), &r)
		Expect(err).NotTo(HaveOccurred())
		Expect(first.Passed).To(BeTrue())
		again, err := player().Play(context.Background(), &r)
		Expect(err).NotTo(HaveOccurred())
		Expect(again).To(Equal(first))
		share, clause := first.Worst()
		Expect(share).To(And(BeNumerically(">", 0), BeNumerically("<", 1)))
		Expect(first.Find(clause).Share()).To(Equal(share))
		Expect(first.WritesPerHour).To(BeNumerically(">", 0))
	})

	It("counts a controller that dies as one that fails", func() {
		r := run("calm-start", campaign.Controller{Command: "false"})
		out, err := player("false").Play(context.Background(), &r)
		Expect(err).NotTo(HaveOccurred())
		share, clause := out.Worst()
		Expect(share).To(Equal(-1.0))
		Expect(clause).To(HavePrefix("controller_"))
	})

	DescribeTable("compares margins of unlike units by their scales", func(f campaign.Finding, want float64) {
		if math.IsNaN(want) {
			Expect(math.IsNaN(f.Share())).To(BeTrue())
			return
		}
		Expect(f.Share()).To(BeNumerically("~", want, 1e-12))
	},
		Entry("by the limit", campaign.Finding{Status: verdict.Passed, Margin: verdict.Of(900), Limit: verdict.Of(18000), Unit: "W"}, 0.05),
		Entry("by the floor of the unit", campaign.Finding{Status: verdict.Passed, Margin: verdict.Of(10), Limit: verdict.Of(0), Unit: "W"}, 0.1),
		Entry("failed", campaign.Finding{Status: verdict.Failed, Margin: verdict.Of(-900), Limit: verdict.Of(18000), Unit: "W"}, -0.05),
		Entry("kept where its limit was raised", campaign.Finding{Status: verdict.Passed, Margin: verdict.Of(0.2), Limit: verdict.Of(21000), Unit: "W", Raised: true}, math.NaN()),
		Entry("failed though its limit was raised", campaign.Finding{Status: verdict.Failed, Margin: verdict.Of(-2100), Limit: verdict.Of(21000), Unit: "W", Raised: true}, -0.1),
		Entry("no exception where none is tolerated", campaign.Finding{Status: verdict.Passed, Margin: verdict.Of(0), Limit: verdict.Of(0), Unit: "exceptions"}, 1.0),
		Entry("failed without a margin", campaign.Finding{Status: verdict.Failed, Unit: "W"}, -1.0),
		Entry("not judged", campaign.Finding{Status: verdict.NotExercised, Unit: "W"}, math.NaN()),
	)
})

// linger is this test binary as a controller that notes its process and does nothing.
func linger(note string) {
	if err := os.WriteFile(note, []byte(strconv.Itoa(os.Getpid())), 0o644); err != nil {
		panic(err)
	}
	time.Sleep(time.Hour)
}

// waitForPID is the process that the controller has noted.
func waitForPID(note string) (pid int) {
	GinkgoHelper()
	Eventually(func() (err error) {
		text, err := os.ReadFile(note)
		if err == nil {
			pid, err = strconv.Atoi(string(text))
		}
		return err
	}).WithTimeout(20 * time.Second).Should(Succeed())
	return pid
}

func expectGone(pid int) {
	GinkgoHelper()
	Eventually(syscall.Kill).WithArguments(pid, syscall.Signal(0)).WithTimeout(10*time.Second).Should(MatchError(syscall.ESRCH), "the controller's process is gone")
}

var _ = Describe("a campaign", func() {
	It("plays what has no result yet, counts each run once, and resumes", func() {
		ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
		DeferCleanup(cancel)
		folder := GinkgoT().TempDir()
		var runs []campaign.Run
		for i := range 6 {
			runs = append(runs, run("calm-start", campaign.Controller{Policy: "none"}, scenarios.Change{Path: "seed", Value: fmt.Sprint(i)}))
		}
		runs = append(runs, runs[0])
		session := func(do func(*campaign.Session)) {
			GinkgoHelper()
			q, err := queue.Open(ctx, queue.Options{Folder: folder})
			Expect(err).NotTo(HaveOccurred())
			defer q.Close()
			s, err := campaign.Open(ctx, q, "test", campaign.Options{Slots: 2, Player: player()})
			Expect(err).NotTo(HaveOccurred())
			defer s.Close()
			do(s)
		}
		var first []*campaign.Result
		session(func(s *campaign.Session) {
			seen := map[int]int{}
			out, err := s.Do(ctx, runs, func(i int, _ *campaign.Result) { seen[i]++ })
			Expect(err).NotTo(HaveOccurred())
			Expect(seen).To(HaveLen(7))
			Expect(s.Done()).To(Equal(6))
			Expect(out[6]).To(Equal(out[0]))
			first = out
		})
		session(func(s *campaign.Session) {
			Expect(s.Done()).To(Equal(6))
			out, err := s.Do(ctx, append(runs, run("calm-start", campaign.Controller{Policy: "none"}, scenarios.Change{Path: "seed", Value: "99"})), nil)
			Expect(err).NotTo(HaveOccurred())
			Expect(out[:7]).To(Equal(first))
			Expect(s.Done()).To(Equal(7))
		})
		// What this process plays by itself is the same.
		for i := range 2 {
			alone, err := player().Play(ctx, &runs[i])
			Expect(err).NotTo(HaveOccurred())
			Expect(alone).To(Equal(first[i]))
		}
	})

	It("tells what is wrong with a run that cannot be played", func() {
		ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
		DeferCleanup(cancel)
		q, err := queue.Open(ctx, queue.Options{Folder: GinkgoT().TempDir()})
		Expect(err).NotTo(HaveOccurred())
		defer q.Close()
		s, err := campaign.Open(ctx, q, "test", campaign.Options{Slots: 1, Player: player()})
		Expect(err).NotTo(HaveOccurred())
		defer s.Close()
		_, err = s.Do(ctx, []campaign.Run{{Name: "torn", Scenario: "format: 1\n", Controller: campaign.Controller{Policy: "none"}}}, nil)
		Expect(err).To(MatchError(ContainSubstring("torn")))
	})

	It("ends the controllers of runs under way when it is closed, and withdraws what nobody has begun", func() {
		ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
		DeferCleanup(cancel)
		q, err := queue.Open(ctx, queue.Options{Folder: GinkgoT().TempDir()})
		Expect(err).NotTo(HaveOccurred())
		defer q.Close()
		self, err := os.Executable()
		Expect(err).NotTo(HaveOccurred())
		note := filepath.Join(GinkgoT().TempDir(), "pid")
		command := self + " linger " + note
		s, err := campaign.Open(ctx, q, "test", campaign.Options{Slots: 1, Player: player(command)})
		Expect(err).NotTo(HaveOccurred())
		do, stop := context.WithCancel(ctx)
		ended := make(chan error, 1)
		go func() {
			_, err := s.Do(do, []campaign.Run{run("calm-start", campaign.Controller{Command: command}), run("ev-start", campaign.Controller{Command: command})}, nil)
			ended <- err
		}()
		pid := waitForPID(note)
		stop()
		Eventually(ended).WithTimeout(10 * time.Second).Should(Receive(MatchError(context.Canceled)))
		s.Close()
		expectGone(pid)
		Expect(os.Remove(note)).To(Succeed())
		// A session that begins now finds nothing to do: a worker of its own is given no run.
		s, err = campaign.Open(ctx, q, "another", campaign.Options{Slots: 1, Player: player(command)})
		Expect(err).NotTo(HaveOccurred())
		defer s.Close()
		_, err = s.Do(ctx, []campaign.Run{run("calm-start", campaign.Controller{Policy: "none"})}, nil)
		Expect(err).NotTo(HaveOccurred())
		Consistently(note).Should(Not(BeAnExistingFile()))
	})

	It("plays a run again whose result was an error, when it is resumed", func() {
		ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
		DeferCleanup(cancel)
		q, err := queue.Open(ctx, queue.Options{Folder: GinkgoT().TempDir()})
		Expect(err).NotTo(HaveOccurred())
		defer q.Close()
		runs := []campaign.Run{run("calm-start", campaign.Controller{Policy: "none", Settings: []campaign.Setting{{"MODE", "1"}}})}
		careful := player()
		careful.Own = false
		for _, p := range []*campaign.Player{careful, player()} {
			s, err := campaign.Open(ctx, q, "test", campaign.Options{Slots: 1, Player: p})
			Expect(err).NotTo(HaveOccurred())
			_, err = s.Do(ctx, runs, nil)
			s.Close()
			if p == careful {
				Expect(err).To(MatchError(ContainSubstring("the variable MODE is not allowed here")))
			} else {
				Expect(err).NotTo(HaveOccurred())
			}
		}
	})

	It("makes a job that asks for what is not allowed an error, whatever it says that it needs", func() {
		ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
		DeferCleanup(cancel)
		q, err := queue.Open(ctx, queue.Options{Folder: GinkgoT().TempDir()})
		Expect(err).NotTo(HaveOccurred())
		defer q.Close()
		p := player("true")
		s, err := campaign.Open(ctx, q, "test", campaign.Options{Slots: 1, Player: p})
		Expect(err).NotTo(HaveOccurred())
		defer s.Close()
		forged := campaign.Needs(&campaign.Controller{})
		foreign := run("calm-start", campaign.Controller{Command: "touch x"})
		body, err := json.Marshal(&foreign)
		Expect(err).NotTo(HaveOccurred())
		Expect(q.Submit(ctx, "forged", []queue.Job{
			{Key: "command", Needs: forged, Body: body}, {Key: "torn", Needs: forged, Body: []byte(`{"name":`)},
			{Key: "deep", Needs: forged, Body: []byte(strings.Repeat("[", 1_000_000))},
		})).To(Succeed())
		got := map[string]string{}
		Expect(q.Collect(ctx, "forged", 3, func(r queue.Result) bool {
			got[r.Key] = r.Error
			return true
		})).To(Succeed())
		Expect(got).To(And(HaveKeyWithValue("command", ContainSubstring(`the command "touch x" is not allowed here`)),
			HaveKeyWithValue("torn", ContainSubstring("cannot be read")), HaveKeyWithValue("deep", ContainSubstring("cannot be read"))))
		_, err = s.Do(ctx, []campaign.Run{run("calm-start", campaign.Controller{Policy: "none"})}, nil)
		Expect(err).NotTo(HaveOccurred(), "and the worker plays on")
	})

	It("says what is needed, and what is there, where nobody can play its runs", func() {
		ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
		DeferCleanup(cancel)
		q, err := queue.Open(ctx, queue.Options{Folder: GinkgoT().TempDir()})
		Expect(err).NotTo(HaveOccurred())
		defer q.Close()
		told := make(chan string, 10)
		s, err := campaign.Open(ctx, q, "test", campaign.Options{Slots: 1, Player: player("other"), Note: func(text string) { told <- text }})
		Expect(err).NotTo(HaveOccurred())
		defer s.Close()
		do, stop := context.WithCancel(ctx)
		ended := make(chan error, 1)
		go func() {
			_, err := s.Do(do, []campaign.Run{run("calm-start", campaign.Controller{Command: "mine --x"})}, nil)
			ended <- err
		}()
		Eventually(told).WithTimeout(30 * time.Second).Should(Receive(And(
			ContainSubstring("they need the build "+campaign.Build()+" with the command 'mine --x'"), ContainSubstring("with the command 'other'"))))
		stop()
		Eventually(ended).WithTimeout(10 * time.Second).Should(Receive(MatchError(context.Canceled)))
	})
})
