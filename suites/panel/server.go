package panel

import (
	"bytes"
	"crypto/rand"
	"crypto/subtle"
	"embed"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"html/template"
	"net"
	"net/http"
	"strings"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	"kilter/emulator"
	"kilter/scenarios"
	"kilter/suites/report"
)

//go:embed page.html panel.js chart.js panel.css
var files embed.FS

var page = template.Must(template.New("page.html").Funcs(template.FuncMap{
	"svg":   func(s string) template.HTML { return template.HTML(s) }, // Escaped by the diagram.
	"plain": func(s string) string { return strings.ReplaceAll(s, "_", " ") },
}).ParseFS(files, "page.html"))

// mostBody bounds what a request may bring.
const mostBody = 4 << 10

// Server serves a panel.
type Server struct {
	panel *Panel
	names []string // by which it may be called
	token string   // empty on loopback
	inner http.Handler
}

// Handler makes the panel's server for a listener's address. On any but a loopback address every request needs a
// token, which Token tells.
func (p *Panel) Handler(at net.Addr) (*Server, error) {
	s := &Server{panel: p}
	host, port, err := net.SplitHostPort(at.String())
	if err != nil {
		return nil, fmt.Errorf("panel: %w", err)
	}
	if ip := net.ParseIP(host); ip != nil && ip.IsLoopback() {
		for _, name := range []string{"127.0.0.1", "localhost", "[::1]", host} {
			s.names = append(s.names, name+":"+port)
		}
	} else {
		var secret [18]byte
		if _, err := rand.Read(secret[:]); err != nil {
			return nil, fmt.Errorf("panel: %w", err)
		}
		s.token = base64.RawURLEncoding.EncodeToString(secret[:])
	}
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", s.page)
	for name, kind := range map[string]string{"panel.js": "text/javascript", "chart.js": "text/javascript", "panel.css": "text/css"} {
		text, err := files.ReadFile(name)
		if err != nil {
			return nil, fmt.Errorf("panel: %w", err)
		}
		if kind == "text/css" {
			text = append([]byte(report.Style()), text...)
		}
		mux.HandleFunc("GET /"+name, func(w http.ResponseWriter, _ *http.Request) {
			w.Header().Set("Content-Type", kind+"; charset=utf-8")
			w.Write(text)
		})
	}
	mux.HandleFunc("GET /events", s.events)
	mux.HandleFunc("GET /scenario.yaml", s.save)
	mux.HandleFunc("POST /inject", s.inject)
	mux.HandleFunc("POST /pace", s.pace)
	registry := prometheus.NewRegistry()
	if err := registry.Register(&collector{p}); err != nil {
		return nil, fmt.Errorf("panel: %w", err)
	}
	mux.Handle("GET /metrics", promhttp.HandlerFor(registry, promhttp.HandlerOpts{}))
	s.inner = http.NewCrossOriginProtection().Handler(mux)
	return s, nil
}

// Token is what a request needs on another than a loopback address; empty where none is needed.
func (s *Server) Token() string { return s.token }

// policy lets the page load and run nothing but its own parts.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; img-src 'self' data:; " +
	"base-uri 'none'; form-action 'none'; frame-ancestors 'none'"

// ServeHTTP answers those who know the panel's name and, where it has one, its token.
func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	h := w.Header()
	h.Set("Content-Security-Policy", policy)
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Referrer-Policy", "no-referrer")
	h.Set("Cross-Origin-Resource-Policy", "same-origin")
	h.Set("Cache-Control", "no-store")
	if !s.known(r.Host) {
		http.Error(w, "this panel is not called by that name", http.StatusMisdirectedRequest)
		return
	}
	if s.token != "" && !s.admitted(w, r) {
		return
	}
	r.Body = http.MaxBytesReader(w, r.Body, mostBody)
	s.inner.ServeHTTP(w, r)
}

// known says whether a request calls the panel by a name of its own, and not by one that somebody else's name
// server has made up for it.
func (s *Server) known(host string) bool {
	if s.token != "" {
		return true // who asks has to know the token
	}
	for _, name := range s.names {
		if strings.EqualFold(host, name) {
			return true
		}
	}
	return false
}

const cookie = "kilter-panel"

// admitted asks for the token: once in the address, and from then on in a cookie.
func (s *Server) admitted(w http.ResponseWriter, r *http.Request) bool {
	given := r.URL.Query().Get("token")
	first := given != ""
	if c, err := r.Cookie(cookie); err == nil && !first {
		given = c.Value
	}
	if subtle.ConstantTimeCompare([]byte(given), []byte(s.token)) != 1 {
		http.Error(w, "this panel needs the token that kilter serve has printed, as in /?token=...", http.StatusForbidden)
		return false
	}
	if first {
		http.SetCookie(w, &http.Cookie{Name: cookie, Value: s.token, Path: "/", HttpOnly: true, SameSite: http.SameSiteStrictMode})
		http.Redirect(w, r, "/", http.StatusSeeOther)
		return false
	}
	return true
}

func (s *Server) page(w http.ResponseWriter, _ *http.Request) {
	var text bytes.Buffer
	if err := page.Execute(&text, s.panel.content()); err != nil {
		http.Error(w, "the page cannot be made", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Write(text.Bytes())
}

// events streams what happens until the viewer leaves, or is too slow. It begins with all that a page needs, so that
// one which has lost its connection, or whose bench was started again, is whole at once.
func (s *Server) events(w http.ResponseWriter, r *http.Request) {
	flush := http.NewResponseController(w)
	v := s.panel.hub.join()
	defer s.panel.hub.part(v)
	e, err := s.panel.hub.only("begin", s.panel.begin())
	if err != nil {
		http.Error(w, "the events cannot be told", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/event-stream")
	squeezed := strings.Contains(r.Header.Get("Accept-Encoding"), "gzip")
	if squeezed {
		w.Header().Set("Content-Encoding", "gzip")
		w.Write(gzipHead)
	}
	for {
		flush.SetWriteDeadline(time.Now().Add(10 * time.Second))
		text := e.plain
		if squeezed {
			text = e.squeezed
		}
		if _, err := w.Write(text); err != nil {
			return
		}
		if err := flush.Flush(); err != nil {
			return
		}
		select {
		case e = <-v.events:
		case <-v.gone:
			return
		case <-r.Context().Done():
			return
		}
	}
}

// refuse answers a request that cannot be met.
func refuse(w http.ResponseWriter, err error) {
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	w.WriteHeader(http.StatusUnprocessableEntity)
	fmt.Fprintln(w, err)
}

// inject makes something happen at the next step.
func (s *Server) inject(w http.ResponseWriter, r *http.Request) {
	var asked struct {
		Device string `json:"device"`
		What   string `json:"what"`
	}
	decoder := json.NewDecoder(r.Body)
	decoder.DisallowUnknownFields()
	if err := decoder.Decode(&asked); err != nil {
		http.Error(w, "found no JSON like {\"device\": \"north\", \"what\": \"{trip: 2 min}\"}", http.StatusBadRequest)
		return
	}
	p := s.panel
	events, err := p.bench.Inject(func(at time.Duration) ([]scenarios.Event, error) {
		list, err := p.options.Scenario.Event(at, asked.Device, asked.What)
		if err == nil {
			p.mutex.Lock()
			p.injected = append(p.injected, list...)
			p.mutex.Unlock()
		}
		return list, err
	})
	if err != nil {
		refuse(w, err)
		return
	}
	p.tellTimeline()
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	for _, e := range events {
		fmt.Fprintf(w, "%v: %s\n", e.At, e.Text)
	}
}

// pace changes how fast simulated time passes, where it follows the wall clock.
func (s *Server) pace(w http.ResponseWriter, r *http.Request) {
	var asked struct {
		Pace float64 `json:"pace"`
	}
	if err := json.NewDecoder(r.Body).Decode(&asked); err != nil {
		http.Error(w, "found no JSON like {\"pace\": 5}", http.StatusBadRequest)
		return
	}
	if err := s.panel.bench.SetPace(emulator.Pace(asked.Pace)); err != nil {
		refuse(w, err)
		return
	}
	s.panel.repace(emulator.Pace(asked.Pace))
	w.WriteHeader(http.StatusNoContent)
}

// save writes the run down as a scenario, with what was made to happen by hand.
func (s *Server) save(w http.ResponseWriter, r *http.Request) {
	text, name, err := s.panel.saved(r.URL.Query().Get("name"))
	if err != nil {
		refuse(w, err)
		return
	}
	w.Header().Set("Content-Type", "application/yaml; charset=utf-8")
	w.Header().Set("Content-Disposition", `attachment; filename="`+name+`.yaml"`)
	w.Write(text)
}

// content is what the page shows before any event.
type content struct {
	Title, Name, Site string
	Wide, Narrow      string
	Rows              []injectRow
	Paces             []paceChoice
	Cautions          []string
	Devices           []string
}

func (p *Panel) content() content {
	sc := p.options.Scenario
	c := content{Title: sc.Title, Name: sc.Name, Site: sc.Site.Name, Rows: injectRows(sc), Cautions: report.Cautions}
	c.Wide, c.Narrow = report.Diagram(p.options.Site, true)
	if p.bench.PaceNow() >= 0 {
		c.Paces = paceChoices
	}
	for _, d := range p.bench.File().Devices {
		c.Devices = append(c.Devices, d.Name)
	}
	return c
}
