package panel_test

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"io"
	"math"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator"
	"kilter/scenarios"
	"kilter/suites"
	"kilter/suites/panel"
)

func ask(method, address, body string, headers ...string) (int, http.Header, string) {
	GinkgoHelper()
	r, err := http.NewRequest(method, address, strings.NewReader(body))
	Expect(err).NotTo(HaveOccurred())
	for i := 0; i < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
		if headers[i] == "Host" {
			r.Host = headers[i+1]
		}
	}
	answer, err := client.Do(r)
	Expect(err).NotTo(HaveOccurred())
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	Expect(err).NotTo(HaveOccurred())
	return answer.StatusCode, answer.Header, string(text)
}

// events reads so many events of a stream.
func events(address string, n int, headers ...string) []string {
	GinkgoHelper()
	r, err := http.NewRequest("GET", address+"/events", nil)
	Expect(err).NotTo(HaveOccurred())
	for i := 0; i < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	answer, err := client.Do(r)
	Expect(err).NotTo(HaveOccurred())
	defer answer.Body.Close()
	body := io.Reader(answer.Body)
	if answer.Header.Get("Content-Encoding") == "gzip" {
		body, err = gzip.NewReader(answer.Body)
		Expect(err).NotTo(HaveOccurred())
	}
	lines := bufio.NewReaderSize(body, 1<<20)
	var list []string
	for len(list) < n {
		line, err := lines.ReadString('\n')
		Expect(err).NotTo(HaveOccurred())
		if data, is := strings.CutPrefix(line, "data: "); is {
			list = append(list, data)
		}
	}
	return list
}

var _ = Describe("the panel's server", func() {
	It("lets the page load and run nothing but its own parts", func() {
		s := serve(story("calm-start"), 20, "127.0.0.1:0")
		code, header, text := ask("GET", s.address+"/", "")
		Expect(code).To(Equal(http.StatusOK))
		Expect(header.Get("Content-Security-Policy")).To(And(ContainSubstring("default-src 'none'"), ContainSubstring("script-src 'self'"),
			Not(ContainSubstring("unsafe")), ContainSubstring("frame-ancestors 'none'")))
		Expect(text).NotTo(MatchRegexp(`(?i)<script(>| type="module">)|\son[a-z]+=|style="|javascript:|https?://`))
		Expect(text).To(And(ContainSubstring("evidence and not proof"), ContainSubstring("Never point the bench")))
		for _, part := range []string{"panel.js", "chart.js", "panel.css"} {
			code, _, text := ask("GET", s.address+"/"+part, "")
			Expect(code).To(Equal(http.StatusOK))
			Expect(text).NotTo(Or(ContainSubstring("innerHTML"), ContainSubstring("eval("), ContainSubstring("@import")))
		}
	})

	It("refuses what other pages post, and names that are not its own", func() {
		s := serve(story("calm-start"), emulator.Stepped, "127.0.0.1:0")
		const what = `{"device": "van_charger", "what": "{plug_in: 16 A}"}`
		code, _, _ := ask("POST", s.address+"/inject", what, "Origin", "https://elsewhere.example", "Sec-Fetch-Site", "cross-site")
		Expect(code).To(Equal(http.StatusForbidden))
		code, _, _ = ask("POST", s.address+"/inject", what, "Host", "elsewhere.example")
		Expect(code).To(Equal(http.StatusMisdirectedRequest))
		code, _, _ = ask("GET", s.address+"/events", "", "Host", "elsewhere.example:80")
		Expect(code).To(Equal(http.StatusMisdirectedRequest))
		code, _, text := ask("POST", s.address+"/inject", what, "Origin", s.address, "Sec-Fetch-Site", "same-origin")
		Expect(code).To(Equal(http.StatusOK), text)
	})

	DescribeTable("says what is wrong with what cannot happen",
		func(body string, code int, message string) {
			s := serve(story("calm-start"), emulator.Stepped, "127.0.0.1:0")
			got, _, text := ask("POST", s.address+"/inject", body)
			Expect(got).To(Equal(code))
			Expect(text).To(ContainSubstring(message))
		},
		Entry(nil, `{"device": "nobody", "what": "unplug"}`, 422, `found no device called "nobody" on the site bakery`),
		Entry(nil, `{"device": "van_charger", "what": "{plug_in: 16}"}`, 422, "16 A"),
		Entry(nil, `{"device": "north", "what": "{soc: 120 %}"}`, 422, "found 120 %, wanted 0 to 100 %"),
		Entry(nil, `{"device": "controller", "what": "kill"}`, 422, "found no device"),
		Entry(nil, `{"device": "oven", "what": "{switch: on}\nsky: clear"}`, 422, "more than one line"),
		Entry(nil, `{"device": "oven", "what": "{switch: `+strings.Repeat("x", 5000)+`}"}`, 400, "found no JSON"),
		Entry(nil, `what?`, 400, "found no JSON"),
		Entry(nil, `{"device": "oven", "what": "{switch: on}", "file": "/etc/passwd"}`, 400, "found no JSON"),
	)

	It("serves no file that a request names", func() {
		s := serve(story("calm-start"), emulator.Stepped, "127.0.0.1:0")
		for _, path := range []string{"/page.html", "/../server.go", "/%2e%2e/%2e%2e/etc/passwd", "/panel.js/..%2fpage.html"} {
			code, _, _ := ask("GET", s.address+path, "")
			Expect(code).NotTo(Equal(http.StatusOK), path)
		}
		code, _, text := ask("GET", s.address+"/scenario.yaml?name=../../etc/passwd", "")
		Expect(code).To(Equal(422), text)
	})

	It("streams the same events plain and compressed", func() {
		s := serve(story("calm-start"), 20, "127.0.0.1:0")
		for _, encoding := range []string{"identity", "gzip"} {
			list := events(s.address, 5, "Accept-Encoding", encoding)
			var begin struct {
				Columns []struct{ Name string }
				History [][]float64
			}
			Expect(json.Unmarshal([]byte(list[0]), &begin)).To(Succeed())
			Expect(begin.Columns[0].Name).To(Equal("grid"))
			for _, row := range begin.History {
				Expect(row).To(HaveLen(1 + len(begin.Columns)))
			}
		}
	})

	It("asks for a token on any but a loopback address", func() {
		sc := story("calm-start")
		p := panel.New(panel.Options{Scenario: sc, Site: suites.Wiring(sc)})
		handler, err := p.Handler(&net.TCPAddr{IP: net.IPv4(192, 0, 2, 7), Port: 80})
		Expect(err).NotTo(HaveOccurred())
		Expect(handler.Token()).To(HaveLen(24))
		loopback, err := p.Handler(&net.TCPAddr{IP: net.IPv4(127, 0, 0, 1), Port: 80})
		Expect(err).NotTo(HaveOccurred())
		Expect(loopback.Token()).To(BeEmpty())
		ln, err := net.Listen("tcp", "127.0.0.1:0")
		Expect(err).NotTo(HaveOccurred())
		server := &http.Server{Handler: handler}
		go server.Serve(ln)
		DeferCleanup(server.Close)
		address := "http://" + ln.Addr().String()
		code, _, _ := ask("GET", address+"/panel.css", "")
		Expect(code).To(Equal(http.StatusForbidden))
		code, _, _ = ask("GET", address+"/panel.css?token=wrong", "")
		Expect(code).To(Equal(http.StatusForbidden))
		code, header, _ := ask("GET", address+"/panel.css", "", "Cookie", "kilter-panel="+handler.Token())
		Expect(code).To(Equal(http.StatusOK))
		Expect(header.Get("Content-Type")).To(HavePrefix("text/css"))
	})

	It("tells Prometheus what flows and how the criteria stand", func() {
		s := serve(story("calm-start"), 20, "127.0.0.1:0")
		Eventually(func() string {
			_, _, text := ask("GET", s.address+"/metrics", "")
			return text
		}, "10s").Should(And(MatchRegexp(`kilter_simulated_seconds [1-9]`), ContainSubstring(`kilter_power_watts{device="north",kind="inverter"}`),
			ContainSubstring(`kilter_criterion_failed{criterion="import"} 0`), ContainSubstring(`kilter_state_of_charge_ratio{device="south"} 0.`)))
	})

	It("holds time and lets it go on, where it follows the clock", func() {
		s := serve(story("calm-start"), 20, "127.0.0.1:0")
		code, _, _ := ask("POST", s.address+"/pace", `{"pace": 0}`)
		Expect(code).To(Equal(http.StatusNoContent))
		held := s.bench.Now()
		Consistently(s.bench.Now, "300ms").Should(Equal(held))
		ask("POST", s.address+"/pace", `{"pace": 20}`)
		Eventually(s.bench.Now, "5s").Should(BeNumerically(">", held))
		stepped := serve(story("calm-start"), emulator.Stepped, "127.0.0.1:0")
		code, _, text := ask("POST", stepped.address+"/pace", `{"pace": 5}`)
		Expect(code).To(Equal(422))
		Expect(text).To(ContainSubstring("the controller moves time itself"))
	})
})

var _ = Describe("a run saved as a scenario", func() {
	It("gives loads and sky the same power at the same time, and holds what was done by hand", func() {
		s := serve(story("calm-start"), 200, "127.0.0.1:0")
		Eventually(s.bench.Now, "10s").Should(BeNumerically(">", 20*time.Second))
		for _, what := range []string{
			`{"device": "oven", "what": "{power: 6 kW}"}`,
			`{"device": "sky", "what": "{cloud: {depth: 75 %, edge: 4 s, lasts: 60 s}}"}`,
			`{"device": "van_charger", "what": "{plug_in: 16 A}"}`,
			`{"device": "south_ct", "what": "{fault: reversed}"}`,
			`{"device": "north", "what": "{fault: silent, lasts: 30 s}"}`,
			`{"device": "south", "what": "{soc: 30 %}"}`,
			`{"device": "north", "what": "{trip: 60 s}"}`,
		} {
			code, _, text := ask("POST", s.address+"/inject", what)
			Expect(code).To(Equal(http.StatusOK), text)
		}
		later := s.bench.Now() + 100*time.Second
		Eventually(s.bench.Now, "20s").Should(BeNumerically(">", later))
		_, header, text := ask("GET", s.address+"/scenario.yaml?name=bad-day", "")
		Expect(header.Get("Content-Disposition")).To(Equal(`attachment; filename="bad-day.yaml"`))

		path := filepath.Join(GinkgoT().TempDir(), "bad-day.yaml")
		Expect(os.WriteFile(path, []byte(text), 0o644)).To(Succeed())
		again, err := scenarios.Find(path)
		Expect(err).NotTo(HaveOccurred())
		Expect(suites.Check(again)).To(Succeed())
		told := regexp.MustCompile(`(?s)Saved at\s+(\S+):.*SHA-256\s+([0-9a-f]{64})`).FindStringSubmatch(again.Story)
		Expect(told).NotTo(BeNil(), again.Story)
		until, err := time.ParseDuration(told[1])
		Expect(err).NotTo(HaveOccurred())
		Expect(givenUntil(again, until)).To(Equal(told[2]))
		Expect(len(again.Events)).To(BeNumerically(">=", len(s.scenario.Events)+7))
		// Without what was done by hand it is another day.
		Expect(givenUntil(s.scenario, until)).NotTo(Equal(told[2]))
	})
})

var _ = Describe("a saved run that is checked", func() {
	It("comes to the same verdict on each criterion with a clear margin", func() {
		s := serve(story("calm-start"), 2000, "127.0.0.1:0")
		Eventually(s.bench.Now, "10s").Should(BeNumerically(">", 20*time.Second))
		code, _, text := ask("POST", s.address+"/inject", `{"device": "oven", "what": "{power: 9 kW}"}`)
		Expect(code).To(Equal(http.StatusOK), text)
		Eventually(s.bench.Now, "60s").Should(BeNumerically(">", s.scenario.Lasts))
		ask("POST", s.address+"/pace", `{"pace": 0}`)
		var begin struct {
			Criteria []struct {
				Name, Status string
				Share        float64
			}
			Judged float64
		}
		Eventually(func(g Gomega) { // the findings are told twice a second, and once more when time is held
			list := events(s.address, 1)
			g.Expect(json.Unmarshal([]byte(list[0]), &begin)).To(Succeed())
			g.Expect(begin.Judged).To(Equal(s.bench.Now().Seconds()))
		}, "10s", "100ms").Should(Succeed())
		Expect(begin.Criteria).To(ContainElement(HaveField("Status", "failed")))
		_, _, text = ask("GET", s.address+"/scenario.yaml", "")
		path := filepath.Join(GinkgoT().TempDir(), "again.yaml")
		Expect(os.WriteFile(path, []byte(text), 0o644)).To(Succeed())
		again, err := scenarios.Find(path)
		Expect(err).NotTo(HaveOccurred())
		out, err := suites.Play(GinkgoT().Context(), again, suites.Options{Controller: suites.Controller{Name: "none"}})
		Expect(err).NotTo(HaveOccurred())
		clear := 0
		for i, c := range begin.Criteria {
			if c.Share > -0.2 && c.Share < 0.2 {
				continue
			}
			clear++
			Expect(string(out.Run.Criteria[i].Status)).To(Equal(c.Status), c.Name)
		}
		Expect(clear).To(BeNumerically(">=", 3))
	})
})

// givenUntil is the hash of what loads and sky take in a scenario up to a time, worked out without a panel.
func givenUntil(sc *scenarios.Scenario, until time.Duration) string {
	GinkgoHelper()
	var all bytes.Buffer
	b, err := emulator.New(sc, emulator.Options{Observe: []func(*emulator.Tick){func(t *emulator.Tick) {
		if t.Plant.TimeMS() <= until.Milliseconds() {
			Expect(binary.Write(&all, binary.LittleEndian, math.Float64bits(t.Plant.GivenW))).To(Succeed())
		}
	}}})
	Expect(err).NotTo(HaveOccurred())
	Expect(b.Run(GinkgoT().Context(), nil)).To(Succeed())
	sum := sha256.Sum256(all.Bytes())
	return hex.EncodeToString(sum[:])
}
