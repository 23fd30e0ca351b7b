package panel_test

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"github.com/chromedp/chromedp/kb"
	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	wire "github.com/simonvetter/modbus"

	"kilter/emulator/registers"
	"kilter/suites/browser"
)

// looked opens the panel of a bench in a real browser.
func looked(s *served) *browser.Tab {
	GinkgoHelper()
	tab := browser.ForSpec()
	Expect(tab.Size(1280, 1000)).To(Succeed())
	Expect(tab.Go(s.address + "/")).To(Succeed())
	ready(tab)
	return tab
}

func ready(tab *browser.Tab) {
	GinkgoHelper()
	Eventually(text(tab, `document.documentElement.dataset.ready || ""`), "30s").Should(Equal("true"))
}

// text is what a script answers, asked again and again.
func text(tab *browser.Tab, script string) func() (string, error) {
	return func() (string, error) { return browser.Eval[string](tab, script) }
}

// value is what the diagram shows of a device.
func value(tab *browser.Tab, device string) func() (string, error) {
	return text(tab, `document.querySelector(".wide [data-value=`+device+`]").textContent`)
}

// power asks a device on the wire for its power [W], by a declared map's description, with an independent client.
func power(s *served, device string) float64 {
	GinkgoHelper()
	for _, d := range s.bench.File().Devices {
		if d.Name != device {
			continue
		}
		for _, p := range d.Registers.Points {
			if p.Signal != "ac_power" {
				continue
			}
			c, err := wire.NewClient(&wire.ClientConfiguration{URL: "tcp://" + d.Address})
			Expect(err).NotTo(HaveOccurred())
			Expect(c.Open()).To(Succeed())
			defer c.Close()
			c.SetUnitId(d.Unit)
			table := wire.HOLDING_REGISTER
			if p.Table == "input" {
				table = wire.INPUT_REGISTER
			}
			words, err := c.ReadRegisters(p.Address, p.Registers, table)
			Expect(err).NotTo(HaveOccurred())
			raw := float64(int16(words[0]))
			if p.Registers == 2 {
				if d.Registers.WordOrder == "low word first" {
					words[0], words[1] = words[1], words[0]
				}
				raw = float64(int32(uint32(words[0])<<16 | uint32(words[1])))
			}
			return float64(p.Sign) * (raw*p.Scale + p.Offset)
		}
	}
	Fail("no power of " + device + " on the wire")
	return 0
}

// kilowatt reads a power as the page writes it.
func kilowatt(text string) float64 {
	GinkgoHelper()
	v, err := strconv.ParseFloat(strings.Replace(strings.TrimSuffix(text, " kW"), "−", "-", 1), 64)
	Expect(err).NotTo(HaveOccurred())
	return v
}

var _ = Describe("the panel in a browser", Label("browser"), func() {
	It("shows in the diagram what the registers say at that time, with nothing on the console and no request elsewhere", func() {
		s := serve(story("ev-start"), 20, "127.0.0.1:0")
		tab := looked(s)
		Eventually(s.bench.Now, "30s").Should(BeNumerically(">", 15*time.Second))
		Expect(s.bench.SetPace(0)).To(Succeed())
		w := power(s, "south")
		Expect(math.Abs(w)).To(BeNumerically(">", 100))
		Eventually(text(tab, `String(Number(document.getElementById("time").dataset.at))`), "10s").Should(Equal(fmt.Sprint(s.bench.Now().Seconds())))
		shown, err := value(tab, "south")()
		Expect(err).NotTo(HaveOccurred())
		// The page shows tens of watts, and the register whole ones.
		Expect(kilowatt(shown)).To(BeNumerically("~", w/1000, 0.0051+0.0005))
		Expect(browser.Eval[bool](tab, `document.querySelector(".wide [data-flow=south][data-way=`+map[bool]string{true: "in", false: "out"}[w > 0]+`]").classList.contains("on")`)).To(BeTrue())
		Expect(tab.Console()).To(BeEmpty())
		Expect(tab.Elsewhere(s.address + "/")).To(BeEmpty())
	})

	It("starts the van by hand, by keyboard alone, which the grid flow, the strips and a controller's meter then show", func() {
		s := serve(story("calm-start"), 20, "127.0.0.1:0")
		tab := looked(s)
		label := text(tab, `document.activeElement.getAttribute("aria-label") || document.activeElement.textContent`)
		for range 120 {
			Expect(tab.Keys(kb.Tab)).To(Succeed())
			if at, err := label(); err == nil && at == "start: van charger" {
				break
			}
		}
		Expect(label()).To(Equal("start: van charger"))
		Expect(tab.Keys(kb.Enter)).To(Succeed())
		Eventually(text(tab, `document.getElementById("told").textContent`), "10s").Should(ContainSubstring("van_charger: plug_in: 16 A"))
		Eventually(func() float64 { return power(s, "van_charger") }, "30s").Should(BeNumerically(">", 10_000))
		Eventually(text(tab, `[...document.querySelectorAll(".strip-name i")].map(e => e.textContent).find(t => t.startsWith("van charger"))`), "20s").
			Should(MatchRegexp(`van charger 1[01]\.\d\d kW, charging`))
		Eventually(value(tab, "grid_meter"), "20s").Should(MatchRegexp(`^\d+\.\d\d kW$`))
		Expect(browser.Eval[string](tab, `document.getElementById("timeline").innerText`)).To(ContainSubstring("plug_in: 16 A (by hand)"))
		meter, err := s.bench.Client(0).Read("grid_meter", registers.ACPower)
		Expect(err).NotTo(HaveOccurred())
		Expect(meter).To(BeNumerically(">", 1000))
	})

	It("lets each control be reached by keyboard alone, and shows where one is", func() {
		s := serve(story("calm-start"), 20, "127.0.0.1:0")
		tab := looked(s)
		const controls = `[...document.querySelectorAll("button, input, summary, a[href], [tabindex='0']")]`
		total, err := browser.Eval[int](tab, controls+`.length`)
		Expect(err).NotTo(HaveOccurred())
		Expect(total).To(BeNumerically(">", 50))
		for range total {
			Expect(tab.Keys(kb.Tab)).To(Succeed())
			Expect(browser.Eval[string](tab, `(() => { const e = document.activeElement; e.dataset.reached = "yes";
				return getComputedStyle(e).outlineStyle === "none" ? e.outerHTML : ""; })()`)).To(BeEmpty())
		}
		Expect(browser.Eval[string](tab, controls+`.filter(e => !e.dataset.reached).map(e => e.outerHTML).join()`)).To(BeEmpty())
	})

	It("injects, sets the pace and saves by keyboard alone", func() {
		s := serve(story("calm-start"), 20, "127.0.0.1:0")
		tab := looked(s)
		label := text(tab, `document.activeElement.getAttribute("aria-label") || document.activeElement.name || document.activeElement.textContent`)
		reach := func(name string) {
			GinkgoHelper()
			for range 200 {
				Expect(tab.Keys(kb.Tab)).To(Succeed())
				if at, err := label(); err == nil && at == name {
					return
				}
			}
			Fail("no Tab leads to " + name)
		}
		told := text(tab, `document.getElementById("told").textContent`)
		reach("start: van charger")
		Expect(tab.Keys(kb.Enter)).To(Succeed())
		Eventually(told, "10s").Should(ContainSubstring("van_charger: plug_in: 16 A"))
		reach("a") // the cloud's depth, the next field from here
		Expect(browser.Eval[string](tab, `document.activeElement.form.dataset.device`)).To(Equal("sky"))
		Expect(tab.Keys("60")).To(Succeed()) // a field that Tab has reached is selected, and typing replaces it
		reach("pass: sky")
		Expect(tab.Keys(" ")).To(Succeed())
		Eventually(told, "10s").Should(ContainSubstring("depth: 60 %"))
		reach("silence: link to north")
		Expect(tab.Keys(kb.Enter)).To(Succeed())
		Eventually(told, "10s").Should(ContainSubstring("north: fault: silent"))
		reach("hold")
		Expect(tab.Keys(kb.Enter)).To(Succeed())
		Eventually(text(tab, `document.getElementById("pace").textContent`), "10s").Should(Equal("pace held"))
		Expect(browser.Eval[string](tab, `document.querySelector("[data-pace][aria-pressed=true]").textContent`)).To(Equal("hold"))
		held := s.bench.Now()
		Consistently(s.bench.Now, "300ms").Should(Equal(held))
		reach("name")
		// A browser without a window keeps no files, and does not tell of asking for one: the link to it is looked at.
		_, err := browser.Eval[any](tab, `document.addEventListener("click", e => { if (e.target.matches("a[download]")) document.documentElement.dataset.saved = e.target.href; }), 0`)
		Expect(err).NotTo(HaveOccurred())
		Expect(tab.Keys(kb.Enter)).To(Succeed())
		file, err := browser.Eval[string](tab, `document.documentElement.dataset.saved`)
		Expect(err).NotTo(HaveOccurred())
		code, _, saved := ask("GET", file, "")
		Expect(code).To(Equal(200), saved)
		Expect(saved).To(And(ContainSubstring("plug_in: 16 A"), ContainSubstring("depth: 60 %"), ContainSubstring("fault: silent")))
	})

	It("comes back when its bench was started again", func() {
		s := serve(story("calm-start"), 20, "127.0.0.1:0")
		tab := looked(s)
		Eventually(s.bench.Now, "30s").Should(BeNumerically(">", 10*time.Second))
		s.stop()
		Eventually(text(tab, `document.getElementById("link").className`), "20s").Should(Equal("lost"))
		again := serve(story("ev-start"), 1, strings.TrimPrefix(s.address, "http://"))
		Eventually(text(tab, `document.getElementById("link").textContent`), "30s").Should(Equal("connected"))
		Eventually(text(tab, `document.getElementById("timeline").innerText`), "20s").Should(ContainSubstring("the van is plugged in"))
		Expect(again.bench.Now()).To(BeNumerically("<", 60*time.Second))
	})

	It("pauses the strips, and lights what has changed among the registers", func() {
		s := serve(story("calm-start"), 20, "127.0.0.1:0")
		tab := looked(s)
		_, err := browser.Eval[any](tab, `document.querySelectorAll("details").forEach(d => d.open = true)`)
		Expect(err).NotTo(HaveOccurred())
		Eventually(func() (int, error) {
			return browser.Eval[int](tab, `document.querySelectorAll("[data-registers] .lit").length`)
		}, "20s").Should(BeNumerically(">", 0))
		strip := text(tab, `document.querySelector(".strip").innerHTML`)
		_, err = browser.Eval[any](tab, `document.getElementById("pause").click()`)
		Expect(err).NotTo(HaveOccurred())
		time.Sleep(400 * time.Millisecond) // what was due to be drawn
		still, err := strip()
		Expect(err).NotTo(HaveOccurred())
		Consistently(strip, "1s").Should(Equal(still))
		_, err = browser.Eval[any](tab, `document.getElementById("pause").click()`)
		Expect(err).NotTo(HaveOccurred())
		Eventually(strip, "10s").ShouldNot(Equal(still))
	})

	It("fits a window of 400 px", func() {
		s := serve(story("calm-start"), 20, "127.0.0.1:0")
		tab := looked(s)
		Expect(tab.Size(400, 800)).To(Succeed())
		Expect(browser.Eval[float64](tab, `document.documentElement.scrollWidth`)).To(BeNumerically("<=", 400))
	})

	It("leaves hostile names inert", func() {
		const evil = `<img src=x onerror="document.title='owned'"><script>document.title='owned'</script>`
		sc := *story("calm-start")
		site := *sc.Site
		sc.Title, sc.Site, site.Name = evil, &site, evil
		site.Devices = append(site.Devices[:0:0], site.Devices...)
		for i := range site.Devices {
			if site.Devices[i].Wire == nil {
				site.Devices[i].Name = evil + site.Devices[i].Name
			}
		}
		sc.Events = append(sc.Events[:0:0], sc.Events...)
		for i := range sc.Events {
			sc.Events[i].Text = evil
		}
		tab := looked(serve(&sc, 20, "127.0.0.1:0"))
		Eventually(text(tab, `document.body.innerText`), "10s").Should(ContainSubstring("<img src=x"))
		Expect(browser.Eval[int](tab, `document.querySelectorAll("img").length`)).To(BeZero())
		Expect(browser.Eval[string](tab, `document.title`)).To(HavePrefix("<img"))
		Expect(tab.Console()).To(BeEmpty())
	})

	It("keeps nobody out, in light and in dark", func() {
		s := serve(story("calm-start"), 20, "127.0.0.1:0")
		tab := looked(s)
		for _, scheme := range []string{"light", "dark"} {
			Expect(tab.Scheme(scheme)).To(Succeed())
			found, passed, err := tab.Barriers()
			if err == browser.ErrNoAxe {
				Skip(err.Error())
			}
			Expect(err).NotTo(HaveOccurred())
			Expect(found).To(BeEmpty(), scheme)
			Expect(passed).To(BeNumerically(">", 10))
		}
	})

	It("is looked at", func() {
		if *pictures == "" {
			Skip("pictures are for eyes, and none were asked for by -pictures")
		}
		s := serve(story("ev-start"), 20, "127.0.0.1:0")
		tab := looked(s)
		Eventually(s.bench.Now, "60s").Should(BeNumerically(">", 330*time.Second))
		for _, shot := range []struct {
			name, scheme  string
			width, height int64
		}{{"panel-light", "light", 1280, 1800}, {"panel-dark", "dark", 1280, 1800}, {"panel-phone", "light", 400, 3600}} {
			Expect(tab.Size(shot.width, 900)).To(Succeed())
			Expect(tab.Scheme(shot.scheme)).To(Succeed())
			time.Sleep(700 * time.Millisecond)
			png, err := tab.Picture(float64(shot.width), 0, float64(shot.height))
			Expect(err).NotTo(HaveOccurred())
			Expect(os.WriteFile(filepath.Join(*pictures, shot.name+".png"), png, 0o644)).To(Succeed())
		}
	})
})
