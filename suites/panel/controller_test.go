package panel_test

import (
	"encoding/json"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator"
	"kilter/emulator/registers"
	"kilter/scenarios"
	"kilter/suites"
)

// steady is the command of the reference controller, as a process of its own.
func steady() []string {
	GinkgoHelper()
	self, err := os.Executable()
	Expect(err).NotTo(HaveOccurred())
	GinkgoT().Setenv(asController, "1")
	return []string{self}
}

// attach lets the reference controller work on a bench that is served already.
func attach(s *served) {
	GinkgoHelper()
	keeper := emulator.NewKeeper(steady(), GinkgoWriter, emulator.Limits{})
	Expect(keeper.Open(s.bench)).To(Succeed())
	DeferCleanup(func() {
		s.stop() // a controller that waits sees the end
		Expect(keeper.Close(time.Second, 2*time.Second)).To(Succeed())
	})
}

// without leaves out what a story has happen to a device.
func without(sc *scenarios.Scenario, device string) *scenarios.Scenario {
	GinkgoHelper()
	changed := sc.WithEvents(slices.DeleteFunc(slices.Clone(sc.Events), func(e scenarios.Event) bool { return e.Device == device }), sc.Lasts)
	Expect(len(changed.Events)).To(BeNumerically("<", len(sc.Events)))
	return changed
}

// inject makes something happen through the panel.
func inject(s *served, device, what string) {
	GinkgoHelper()
	body, err := json.Marshal(map[string]string{"device": device, "what": what})
	Expect(err).NotTo(HaveOccurred())
	code, _, text := ask("POST", s.address+"/inject", string(body))
	Expect(code).To(Equal(http.StatusOK), text)
}

// standing is how a criterion stands on the panel.
type standing struct {
	Name, Status string
	Share        float64
}

func standings(s *served) []standing {
	GinkgoHelper()
	var begin struct{ Criteria []standing }
	Expect(json.Unmarshal([]byte(events(s.address, 1)[0]), &begin)).To(Succeed())
	return begin.Criteria
}

var _ = Describe("a controller on a bench with a panel", func() {
	It("makes room on the main fuse for a van that is started by hand", func() {
		// 18 kW of import are allowed; both batteries charge with 8.2 kW in the cheap hours, and the van takes 11 kW.
		s := serve(without(story("cheap-hours"), "van_charger"), 200, "127.0.0.1:0")
		attach(s)
		south := func() float64 { return power(s, "south") }
		Eventually(south, "60s").Should(BeNumerically(">", 3000))
		Consistently(south, "500ms").Should(BeNumerically(">", 3000))
		inject(s, "van_charger", "{plug_in: 16 A}")
		Eventually(func() float64 { return power(s, "van_charger") }, "30s").Should(BeNumerically(">", 10_000))
		Eventually(south, "30s").Should(BeNumerically("<", 2500))
		Eventually(func() (float64, error) { return s.bench.Client(0).Read("grid_meter", registers.ACPower) }, "30s").Should(BeNumerically("<", 18_000))
		Consistently(south, "500ms").Should(And(BeNumerically(">", 1000), BeNumerically("<", 2500)))
	})

	It("comes to the same verdict when the saved run is checked, on each criterion with a clear margin", func() {
		s := serve(story("calm-start"), 100, "127.0.0.1:0")
		attach(s)
		Eventually(s.bench.Now, "60s").Should(BeNumerically(">", 60*time.Second))
		inject(s, "oven", "{power: 9 kW}")
		Eventually(s.bench.Now, "90s").Should(BeNumerically(">", s.scenario.Lasts))
		ask("POST", s.address+"/pace", `{"pace": 0}`)
		time.Sleep(700 * time.Millisecond) // the findings are told twice a second
		live := standings(s)
		_, _, text := ask("GET", s.address+"/scenario.yaml", "")
		path := filepath.Join(GinkgoT().TempDir(), "again.yaml")
		Expect(os.WriteFile(path, []byte(text), 0o644)).To(Succeed())
		again, err := scenarios.Find(path)
		Expect(err).NotTo(HaveOccurred())
		out, err := suites.Play(GinkgoT().Context(), again, suites.Options{Pace: emulator.Stepped,
			Controller: suites.Controller{Name: "steady", Command: steady()}, Log: GinkgoWriter})
		Expect(err).NotTo(HaveOccurred())
		Expect(out.Run.Criteria).To(HaveLen(len(live)))
		clear := map[string]int{}
		for i, c := range live {
			GinkgoWriter.Println(c.Name, c.Status, c.Share, out.Run.Criteria[i].Status, out.Run.Criteria[i].Margin)
			if c.Share > -0.2 && c.Share < 0.2 {
				continue
			}
			clear[c.Status]++
			Expect(string(out.Run.Criteria[i].Status)).To(Equal(c.Status), c.Name)
		}
		Expect(clear["failed"]).To(BeNumerically(">=", 1))
		Expect(clear["passed"]).To(BeNumerically(">=", 2))
	})
})
