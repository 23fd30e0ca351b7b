package campaign

import (
	"sync"

	"kilter/scenarios"
)

// mostRecent bounds what recent holds.
const mostRecent = 64

// recent holds scenarios that have been read: many runs of a campaign play the same ones. A scenario is data that nobody
// changes, so that several runs may play one at a time.
type recent struct {
	mutex sync.Mutex
	known map[[2]string]*scenarios.Scenario // by name and text
}

// find is a scenario by its name and text, which is read where it is not known.
func (r *recent) find(name, text string, read func(name, text string) (*scenarios.Scenario, error)) (*scenarios.Scenario, error) {
	key := [2]string{name, text}
	r.mutex.Lock()
	sc := r.known[key]
	r.mutex.Unlock()
	if sc != nil {
		return sc, nil
	}
	sc, err := read(name, text)
	if err != nil {
		return nil, err
	}
	r.mutex.Lock()
	defer r.mutex.Unlock()
	if r.known == nil || len(r.known) >= mostRecent {
		r.known = map[[2]string]*scenarios.Scenario{}
	}
	r.known[key] = sc
	return sc, nil
}
