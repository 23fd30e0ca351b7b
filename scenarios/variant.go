package scenarios

import "slices"

// applyMoves rewires a site: each device, meter or feeder that is named goes to
// another feeder. So a wiring that differs in one clamp is a file of one line.
func applyMoves(f *siteFile, moves entries[text], out *findings) {
	for _, m := range moves {
		move(f, m, out)
	}
}

// move takes one thing out of the tree and hangs it in elsewhere.
func move(f *siteFile, m entry[text], out *findings) {
	root := branchOf(f.Supply)
	from, found := findBranch(root, "supply", func(b branch) bool { return b.has(m.Name) })
	if !found {
		_, hint := unknownWord(m.Name, allNames(root))
		out.add(m.At, "the name "+m.Name, "a device, meter or feeder of the site", hint)
		return
	}
	to, found := findBranch(root, "supply", func(b branch) bool { return b.name == m.Value.s })
	if !found {
		wanted, hint := unknownWord(m.Value.s, feederNames(root, "supply"))
		out.add(m.Value.at, "the feeder "+m.Value.s+", which does not exist", wanted, hint)
		return
	}
	for _, fd := range *from.feeders {
		if fd.Name != m.Name {
			continue
		}
		if _, inside := findBranch(branchOfFeeder(fd.Value), fd.Name, func(b branch) bool { return b.name == to.name }); inside {
			out.add(m.Value.at, "the feeder "+m.Name+" moved into "+insideWords(m.Name, to.name),
				"a feeder outside it, since the wiring is a tree", m.Name+" stands at "+fd.At.String())
			return
		}
	}
	if from.feeders == to.feeders {
		out.add(m.Value.at, m.Name+" moved to where it is", "another feeder", "")
		return
	}
	hand(from.meters, to.meters, m.Name)
	hand(from.devices, to.devices, m.Name)
	hand(from.feeders, to.feeders, m.Name)
}

func insideWords(name, to string) string {
	if name == to {
		return "itself"
	}
	return to + ", which is inside it"
}

// hand moves the entry of that name from one list to the end of another.
func hand[T any](from, to *entries[T], name string) {
	for i, e := range *from {
		if e.Name == name {
			*from = slices.Delete(*from, i, i+1)
			*to = append(*to, e)
			return
		}
	}
}

// branch is one feeder's lists, wherever in the file types they are.
type branch struct {
	name    string
	meters  *entries[meterFile]
	devices *entries[deviceFile]
	feeders *entries[*feederFile]
}

func branchOf(s *supplyFile) branch { return branch{"supply", &s.Meters, &s.Devices, &s.Feeders} }

func branchOfFeeder(f *feederFile) branch { return branch{"", &f.Meters, &f.Devices, &f.Feeders} }

// has says whether that name hangs directly on this feeder.
func (b branch) has(name string) bool {
	for _, n := range b.own() {
		if n == name {
			return true
		}
	}
	return false
}

// own lists the names that hang directly on this feeder.
func (b branch) own() []string {
	var names []string
	for _, e := range *b.meters {
		names = append(names, e.Name)
	}
	for _, e := range *b.devices {
		names = append(names, e.Name)
	}
	for _, e := range *b.feeders {
		names = append(names, e.Name)
	}
	return names
}

// findBranch looks through a feeder and all that is behind it.
func findBranch(b branch, name string, ok func(branch) bool) (branch, bool) {
	b.name = name
	if ok(b) {
		return b, true
	}
	for _, f := range *b.feeders {
		if found, there := findBranch(branchOfFeeder(f.Value), f.Name, ok); there {
			return found, true
		}
	}
	return branch{}, false
}

func feederNames(b branch, name string) []string {
	names := []string{name}
	for _, f := range *b.feeders {
		names = append(names, feederNames(branchOfFeeder(f.Value), f.Name)...)
	}
	return names
}

func allNames(b branch) []string {
	names := b.own()
	for _, f := range *b.feeders {
		names = append(names, allNames(branchOfFeeder(f.Value))...)
	}
	return names
}
