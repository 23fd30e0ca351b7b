package sweep

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strings"

	"kilter/suites/campaign"
	"kilter/suites/report"
	"kilter/suites/verdict"
)

// mostShown is how much of a front the page shows.
const mostShown = 40

// WritePage writes sweep.html.
func (p *Plan) WritePage(w io.Writer, m *Summary, cases []Case, results []*campaign.Result) error {
	scores := p.Scores(cases, results, m.Goals)
	page := report.Settings{Headline: m.named(&m.Recommended.Score), Passed: m.Passing > 0, Command: m.Recommended.Command,
		Facts: m.facts(), Robust: m.lots(), Notes: m.notes()}
	page.Word, page.Sentence = m.judgement()
	page.Head = m.head()
	rows := m.folded()
	page.Hidden = max(0, len(rows)-mostShown)
	for _, r := range rows[:min(len(rows), mostShown)] {
		page.Rows = append(page.Rows, m.cells(r.word(), r.Score))
	}
	page.Rows = append([][]string{m.cells(m.word(), &m.Recommended.Score)}, page.Rows...)
	if m.AsItStands != nil {
		page.Rows = append(page.Rows, m.cells("as it stands", &m.AsItStands.Score))
	}
	for i := range m.Goals {
		for j := i + 1; j < len(m.Goals); j++ {
			if c := m.cloud(scores, i, j); len(c.Dots) > 0 {
				page.Clouds = append(page.Clouds, c)
			}
		}
	}
	page.Maps = p.maps(m, scores)
	return report.WriteSettings(w, page)
}

// word is how the recommended setting is called.
func (s *Summary) word() string {
	if s.Passing == 0 {
		return "fails least"
	}
	return "recommended"
}

// named tells a setting in words: hold 90s, apart 6%.
func (s *Summary) named(x *Score) string {
	var parts []string
	for k, v := range x.Settings {
		parts = append(parts, s.Knobs[k].Name+" "+v)
	}
	return strings.Join(parts, ", ")
}

// judgement is the recommendation in a word and a sentence.
func (s *Summary) judgement() (word, sentence string) {
	r := s.Recommended
	if s.Passing == 0 {
		return "none passes", fmt.Sprintf("None of %s passes all criteria. This one fails least: worst share %s, %s.",
			verdict.Counted(s.Points, "setting"), Share(r.Share), r.Where())
	}
	sentence = fmt.Sprintf("Its worst share is %s, %s.", Share(r.Share), r.Where())
	if s.AsItStands != nil {
		sentence += fmt.Sprintf(" As it stands the worst share is %s.", Share(s.AsItStands.Share))
		if s.nothingBetter() {
			sentence += " Nothing that was tried is safer than that."
		}
	}
	return "recommended", sentence
}

// nothingBetter says that the settings as they stand pass, with a worst share that no other setting exceeds by what can be seen.
func (s *Summary) nothingBetter() bool {
	best, is := s.Recommended.Share.Value()
	old, was := s.AsItStands.Share.Value()
	return is && was && len(s.Goals) == 0 && s.AsItStands.Passed() && old >= best-seen
}

// seen is the least difference of shares that the table shows.
const seen = 0.0005

func (s *Summary) facts() [][2]string {
	design := string(s.Design)
	facts := [][2]string{{"Controller", s.Controller}, {"Scenarios", strings.Join(s.Stories, ", ")}, {"Seeds", fmt.Sprint(s.Seeds)}, {"Design", design}}
	for _, k := range s.Knobs {
		text := strings.Join(k.Values, ", ")
		if k.Range {
			text = k.Values[0] + " to " + k.Values[1]
		}
		facts = append(facts, [2]string{k.Name, text})
	}
	for _, g := range s.Goals {
		facts = append(facts, [2]string{"Goal", g.Title()})
	}
	return append(facts, [2]string{"Settings", fmt.Sprintf("%d, of which %d pass all criteria", s.Points, s.Passing)}, [2]string{"Runs", fmt.Sprint(s.Runs)})
}

// lots are the lines of shares where a setting was not chosen.
func (s *Summary) lots() []report.Lot {
	var list []report.Lot
	for _, x := range []struct {
		name string
		look *Look
	}{{s.word(), s.Recommended}, {"as it stands", s.AsItStands}} {
		if x.look == nil {
			continue
		}
		list = append(list, report.Lot{Name: x.name + ", seeds of the design", Shares: known(x.look.BySeed)})
		if x.look.Fresh != nil {
			list = append(list, report.Lot{Name: x.name + ", fresh seeds", Shares: known(x.look.Fresh.Shares)})
		}
		if x.look.Sites != nil {
			list = append(list, report.Lot{Name: x.name + ", other sites", Shares: known(x.look.Sites.Shares)})
		}
	}
	return list
}

func known(list []verdict.Number) []float64 {
	var out []float64
	for _, n := range list {
		if v, is := n.Value(); is {
			out = append(out, v)
		}
	}
	return out
}

func (s *Summary) notes() []string {
	var notes []string
	for _, x := range []struct {
		name string
		look *Look
	}{{s.word(), s.Recommended}, {"as it stands", s.AsItStands}} {
		if x.look != nil {
			notes = append(notes, capital(x.name)+x.look.Robust(s.Spread)+".")
		}
	}
	if s.Spread > 0 {
		notes = append(notes, "Other sites differ in "+fmt.Sprintf(SitesVary, fmt.Sprintf("%.3g %%", 100*s.Spread))+".")
	}
	for _, u := range s.Unbuilt {
		notes = append(notes, "Not built: "+u)
	}
	return notes
}

func capital(text string) string { return strings.ToUpper(text[:1]) + text[1:] }

// cloud is the plot of two goals.
func (s *Summary) cloud(scores []Score, i, j int) report.Cloud {
	c := report.Cloud{X: s.Goals[i].Title(), Y: s.Goals[j].Title(), Chosen: -1}
	place := map[int]int{}
	for n := range scores {
		x, knownX := scores[n].Goals[i].Value()
		y, knownY := scores[n].Goals[j].Value()
		if !knownX || !knownY {
			continue
		}
		place[scores[n].Point] = len(c.Dots)
		c.Dots = append(c.Dots, report.Dot{X: x, Y: y, Passed: scores[n].Passed(), Tip: s.named(&scores[n])})
	}
	for _, x := range s.Front {
		if at, is := place[x.Point]; is {
			c.Front = append(c.Front, at)
		}
	}
	slices.SortStableFunc(c.Front, func(a, b int) int { return cmp.Compare(c.Dots[a].X, c.Dots[b].X) })
	if at, is := place[s.Recommended.Point]; is {
		c.Chosen = at
	}
	return c
}
