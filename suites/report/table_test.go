package report_test

import (
	"bytes"
	"strings"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/suites/report"
	"kilter/suites/verdict"
)

func table(v verdict.Verdict, colour bool) string {
	var text bytes.Buffer
	ExpectWithOffset(1, report.Table(&text, v, colour)).To(Succeed())
	return text.String()
}

var _ = Describe("the terminal table", func() {
	It("reads as its golden file: a block for each run, aligned, failures in five parts", func() {
		fault := shortFinding()
		fault.Scenario, fault.Criteria = "calm-start", nil
		fault.Error = &verdict.RunError{Kind: verdict.ControllerNeverCame, Detail: "no connection within 30 s"}
		golden("table.txt", table(verdict.New(judged(), fault), false))
	})

	It("paints only where colour was asked for", func() {
		v := verdict.New(judged())
		Expect(table(v, false)).NotTo(ContainSubstring("\x1b"))
		painted := table(v, true)
		Expect(painted).To(ContainSubstring("\x1b[1;31mfailed\x1b[0m"))
		plain := strings.NewReplacer("\x1b[1;31m", "", "\x1b[32m", "", "\x1b[33m", "", "\x1b[0m", "").Replace(painted)
		Expect(plain).To(Equal(table(v, false)), "colour changes nothing else")
	})

	It("lets no name steer the terminal", func() {
		run := judged()
		run.Scenario, run.Controller = "a\x1b[2Jb", "c\r\nd\u202e"
		run.Criteria[0].Detail, run.Criteria[1].Name = "\x07", "\x1b]0;x\x07"
		text := table(verdict.New(run), false)
		Expect(text).NotTo(MatchRegexp("[\x00-\x09\x0b-\x1f\x7f\u202e]"))
		Expect(text).To(ContainSubstring("a?[2Jb"))
	})

	It("says so when nothing was judged", func() {
		Expect(table(verdict.New(), false)).To(Equal("Nothing was judged.\n"))
	})
})

var _ = Describe("a controller's last words", func() {
	tail := func(text string) string {
		var b bytes.Buffer
		ExpectWithOffset(1, report.Tail(&b, "calm-start", []byte(text), "run/controller.log")).To(Succeed())
		return b.String()
	}

	It("are its last eight lines, and the place of the rest", func() {
		Expect(tail("1\n2\n3\n4\n5\n6\n7\n8\n9\r\n\tten\x1b[2J\n\n")).To(Equal("the last that the controller of calm-start printed " +
			"(all of it: run/controller.log):\n  | 3\n  | 4\n  | 5\n  | 6\n  | 7\n  | 8\n  | 9\n  |     ten?[2J\n"))
	})

	It("may be none", func() {
		Expect(tail("\n")).To(Equal("the controller of calm-start printed nothing (run/controller.log)\n"))
	})
})

var _ = Describe("the progress line", func() {
	var out bytes.Buffer
	var clock time.Time
	now := func() time.Time { return clock }
	BeforeEach(func() {
		out.Reset()
		clock = time.Date(2026, 6, 18, 10, 30, 0, 0, time.UTC)
	})

	It("rewrites one line on a terminal, and leaves it clean", func() {
		p := report.NewProgress(&out, true, now, "van-on-fuse", 2400)
		p.At(1)
		Expect(out.String()).To(BeEmpty(), "a run that is over at once shows nothing")
		clock = clock.Add(time.Second)
		p.At(754.5)
		p.At(754.6)
		Expect(out.String()).To(Equal("\rvan-on-fuse  0:12:34 of 0:40:00  31 %  754x  2s left\x1b[K"))
		out.Reset()
		p.Done()
		p.Done()
		Expect(out.String()).To(Equal("\r\x1b[K"))
	})

	It("writes a plain line now and then elsewhere", func() {
		p := report.NewProgress(&out, false, now, "van-on-fuse", 2400)
		for range 25 {
			clock = clock.Add(time.Second)
			p.At(clock.Sub(time.Date(2026, 6, 18, 10, 30, 0, 0, time.UTC)).Seconds() * 2)
		}
		p.Done()
		Expect(strings.Split(out.String(), "\n")).To(Equal([]string{
			"van-on-fuse  0:00:20 of 0:40:00  1 %  2.0x  19m50s left",
			"van-on-fuse  0:00:40 of 0:40:00  2 %  2.0x  19m40s left",
			"",
		}))
	})

	It("fits the terminal and knows no end where there is none", func() {
		p := report.NewProgress(&out, true, now, strings.Repeat("x", 100)+"\x1b", 0)
		clock = clock.Add(time.Second)
		p.At(5)
		Expect(out.String()).To(HaveLen(1 + 79 + 3))
	})
})
