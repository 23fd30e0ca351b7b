package criteria_test

import (
	"math"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"

	"kilter/suites/criteria"
)

// wired runs d of samples with what edit puts on the wire in each.
func wired(m criteria.Monitor, d time.Duration, edit func(s *criteria.Sample)) criteria.Result {
	c := calmSite()
	c.edit = func(s *criteria.Sample) {
		s.Writes, s.Wire = s.Writes[:0], s.Wire[:0]
		edit(s)
	}
	c.run(d, m)
	r := m.Result()
	expectSound(r)
	return r
}

var _ = Describe("Command economy", func() {
	p := criteria.CommandEconomy{WritesPerHour: bound(20), Gap: 5 * time.Second, Devices: bothNames}
	each := func(period int64, w criteria.WriteSample) func(s *criteria.Sample) {
		return func(s *criteria.Sample) {
			if s.Tick%period == 0 {
				s.Writes = append(s.Writes, w)
			}
		}
	}

	It("passes a controller that writes now and then", func() {
		r := wired(must(criteria.NewCommandEconomy(p, step)), time.Hour, each(3000, criteria.WriteSample{Device: 1, Register: 40}))
		Expect(r.Status).To(Equal(criteria.Passed))
		Expect(r.Exercised).To(Equal(12))
		Expect(r.Clauses[1].Margin).To(BeNumerically("~", 295, 1e-9))
	})

	It("fails one that writes each poll", func() {
		r := wired(must(criteria.NewCommandEconomy(p, step)), time.Hour, each(100, criteria.WriteSample{Device: 1, Register: 40}))
		Expect(r.Status).To(Equal(criteria.Failed))
		Expect(r.Unit).To(Equal("1/h"))
		Expect(r.Observed).To(BeNumerically("~", 360, 6))
		Expect(r.FirstBreachS).To(BeNumerically("~", 210, 1e-9))
		Expect(r.Detail).To(Equal("360 writes in all; in the busiest hour 360 to south; soonest, register 40 of south was written again after 0:00:10"))
	})

	It("fails one that writes a register again too soon, by any request that holds it", func() {
		r := wired(must(criteria.NewCommandEconomy(p, step)), time.Minute, func(s *criteria.Sample) {
			switch s.Tick {
			case 100:
				s.Writes = append(s.Writes, criteria.WriteSample{Register: 40, Count: 3})
			case 149:
				s.Writes = append(s.Writes, criteria.WriteSample{Register: 42, Refused: true}, criteria.WriteSample{Device: 1, Register: 41})
			}
		})
		Expect(r.Status).To(Equal(criteria.Failed))
		Expect(r.AtLeast).To(BeTrue())
		Expect(r.Unit).To(Equal("s"))
		Expect(r.Margin).To(BeNumerically("~", -0.1, 1e-9))
		Expect(r.FirstBreachS).To(BeNumerically("~", 14.9, 1e-9))
	})

	It("is not exercised without writes, and blames the bench for devices that it does not know", func() {
		r := wired(must(criteria.NewCommandEconomy(p, step)), time.Minute, func(*criteria.Sample) {})
		Expect(r.Status).To(Equal(criteria.NotExercised))
		r = wired(must(criteria.NewCommandEconomy(p, step)), time.Minute, each(100, criteria.WriteSample{Device: 2}))
		Expect(r.Status).To(Equal(criteria.Undetermined))
	})

	It("is not exercised by a single write where the gap alone is asked for", func() {
		alone := criteria.CommandEconomy{Gap: 5 * time.Second, Devices: bothNames}
		r := wired(must(criteria.NewCommandEconomy(alone, step)), time.Hour, each(20000, criteria.WriteSample{Device: 1, Register: 40}))
		Expect(r.Status).To(Equal(criteria.NotExercised))
		Expect(r.Exercised).To(BeZero())
	})

	It("says how many registers it could not tell apart", func() {
		r := wired(must(criteria.NewCommandEconomy(p, step)), time.Minute, func(s *criteria.Sample) {
			s.Writes = append(s.Writes, criteria.WriteSample{Register: uint16(2 * s.Tick), Count: 2})
		})
		Expect(figure(r, "registers")).To(Equal(1024.0))
		Expect(figure(r, "registers_not_told_apart")).To(Equal(1200.0 - 1024))
	})

	It("agrees with the definition evaluated offline on random traces", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			// One step is 20 s, so that hours pass quickly.
			const h = 20
			n := rapid.IntRange(1, 800).Draw(t, "length")
			trace := make([]criteria.Sample, n)
			writes := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) criteria.WriteSample {
				return criteria.WriteSample{
					Device: rapid.IntRange(0, 1).Draw(t, "device"), Register: uint16(rapid.IntRange(0, 9).Draw(t, "register")),
					Count: uint16(rapid.IntRange(0, 3).Draw(t, "count")),
				}
			}), 0, 120).Draw(t, "writes")
			for i := range trace {
				trace[i] = criteria.Sample{Tick: int64(i + 1), StepS: h}
			}
			for _, w := range writes {
				i := rapid.IntRange(0, n-1).Draw(t, "step")
				trace[i].Writes = append(trace[i].Writes, w)
			}
			r := feed(must(criteria.NewCommandEconomy(criteria.CommandEconomy{
				WritesPerHour: bound(5), Gap: 10 * time.Minute, Devices: bothNames,
			}, h*time.Second)), trace)

			most, gap := 0, math.Inf(1)
			for device := range 2 {
				for end := range n/3 + 1 {
					count := 0
					for i, s := range trace {
						for _, w := range s.Writes {
							if w.Device == device && i/3 <= end && i/3 > end-60 {
								count++
							}
						}
					}
					most = max(most, count)
				}
				for register := range 12 {
					last := -1
					for i, s := range trace {
						for _, w := range s.Writes {
							if w.Device == device && register >= int(w.Register) && register < int(w.Register)+max(1, int(w.Count)) {
								if last >= 0 {
									gap = min(gap, float64(h*(i-last)))
								}
								last = i
							}
						}
					}
				}
			}
			if r.Clauses[0].Observed != float64(most) || r.Exercised != max(len(writes), 0) {
				t.Fatalf("got %+v, want %d in an hour", r, most)
			}
			if c := r.Clauses[1]; c.Valid == math.IsInf(gap, 1) || c.Valid && math.Abs(c.Observed-gap) > 1e-9 {
				t.Fatalf("got %+v, want a gap of %v", r, gap)
			}
			if failed := most > 5 || gap < 600; (r.Status == criteria.Failed) != failed {
				t.Fatalf("got %+v, want failed %v", r, failed)
			}
		})
	})
})

var _ = Describe("Wire manners", func() {
	p := criteria.WireManners{ReadsPerS: 2, Over: 10 * time.Second, Devices: bothNames}
	make := func() criteria.Monitor { return must(criteria.NewWireManners(p, step)) }

	It("passes a polite controller", func() {
		r := wired(make(), time.Minute, func(s *criteria.Sample) {
			if s.Tick%100 == 0 { // ten reads in a burst, each 10 s
				s.Wire = append(s.Wire, criteria.WireSample{Device: 1, Reads: 10, Writes: 1})
			}
		})
		Expect(r.Status).To(Equal(criteria.Passed))
		Expect(r.Exercised).To(Equal(66))
		Expect(r.Clauses[3].Margin).To(BeNumerically("~", 1, 1e-9))
	})

	DescribeTable("fails a rude one on its clause", func(name string, w criteria.WireSample, detail string) {
		r := wired(make(), time.Minute, func(s *criteria.Sample) {
			if s.Tick == 300 {
				s.Wire = append(s.Wire, w)
			}
		})
		Expect(r.Status).To(Equal(criteria.Failed))
		Expect(r.FirstBreachS).To(BeNumerically("~", 30, 1e-9))
		Expect(r.AtS).To(BeNumerically("~", 30, 1e-9))
		Expect(r.Detail).To(HavePrefix(detail))
		for _, c := range r.Clauses {
			Expect(c.Status == criteria.Failed).To(Equal(c.Name == name))
		}
	},
		Entry("exceptions", "exceptions", criteria.WireSample{Device: 1, Reads: 1, Exceptions: 1}, "1 exception, first by south at 0:00:30"),
		Entry("illegal writes", "illegal", criteria.WireSample{Writes: 2, Illegal: 2}, "2 illegal writes, first to north at 0:00:30"),
		Entry("forbidden writes", "forbidden", criteria.WireSample{Writes: 1, Forbidden: 1}, "1 forbidden write, first to north at 0:00:30"),
		Entry("reads", "read_rate", criteria.WireSample{Device: 1, Reads: 21}, "south was read most, 2.1 times a second"),
	)

	It("tolerates as many as it is told", func() {
		q := p
		q.Exceptions = 2
		for n, want := range map[int]criteria.Status{2: criteria.Passed, 3: criteria.Failed} {
			r := wired(must(criteria.NewWireManners(q, step)), time.Minute, func(s *criteria.Sample) {
				if s.Tick == 300 {
					s.Wire = append(s.Wire, criteria.WireSample{Reads: n, Exceptions: n})
				}
			})
			Expect(r.Status).To(Equal(want))
		}
	})

	It("is not exercised by silence", func() {
		Expect(wired(make(), time.Minute, func(*criteria.Sample) {}).Status).To(Equal(criteria.NotExercised))
	})

	It("refuses parameters without meaning", func() {
		_, err := criteria.NewWireManners(criteria.WireManners{Illegal: -1}, step)
		Expect(err).To(MatchError("wire_manners: illegal is -1, but must not be negative"))
		_, err = criteria.NewWireManners(criteria.WireManners{ReadsPerS: 1, Devices: bothNames}, step)
		Expect(err).To(MatchError("wire_manners: over is 0s, but must lie between 100ms and 1h0m0s"))
	})

	It("agrees with the definition evaluated offline on random traces", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			n := rapid.IntRange(1, 80).Draw(t, "length")
			k := rapid.IntRange(1, 12).Draw(t, "span")
			trace := func() (list []criteria.Sample) {
				for i := range n {
					s := criteria.Sample{Tick: int64(i + 1), StepS: 0.1}
					for range rapid.IntRange(0, 2).Draw(t, "entries") {
						s.Wire = append(s.Wire, criteria.WireSample{
							Device: rapid.IntRange(0, 1).Draw(t, "device"), Reads: rapid.IntRange(0, 4).Draw(t, "reads"),
							Exceptions: rapid.IntRange(0, 1).Draw(t, "exceptions"),
						})
					}
					list = append(list, s)
				}
				return list
			}()
			q := criteria.WireManners{Exceptions: 5, ReadsPerS: 30, Over: time.Duration(k) * step, Devices: bothNames}
			r := feed(must(criteria.NewWireManners(q, step)), trace)
			most, exceptions := 0, 0
			for device := range 2 {
				for end := range trace {
					sum := 0
					for i := max(0, end-k+1); i <= end; i++ {
						for _, w := range trace[i].Wire {
							if w.Device == device {
								sum += w.Reads
							}
						}
					}
					most = max(most, sum)
				}
				for _, s := range trace {
					for _, w := range s.Wire {
						if w.Device == device {
							exceptions += w.Exceptions
						}
					}
				}
			}
			rate := float64(most) / (0.1 * float64(k))
			if math.Abs(r.Clauses[3].Observed-rate) > 1e-9 || r.Clauses[0].Observed != float64(exceptions) {
				t.Fatalf("got %+v, want %v reads a second and %d exceptions", r, rate, exceptions)
			}
			if failed := exceptions > 5 || rate > 30+1e-9; (r.Status == criteria.Failed) != failed {
				t.Fatalf("got %+v, want failed %v", r, failed)
			}
		})
	})
})
