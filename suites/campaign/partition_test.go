package campaign_test

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/suites/campaign"
)

// island is a network namespace that reaches this machine over one link.
type island struct{ name, link, here string }

func ip(args ...string) error {
	if out, err := exec.Command("ip", args...).CombinedOutput(); err != nil {
		return fmt.Errorf("ip %s: %w: %s", strings.Join(args, " "), err, strings.TrimSpace(string(out)))
	}
	return nil
}

// newIsland makes one, or skips the spec where that may not be done. Its addresses are of the block that is set aside for tests of
// networks (RFC 2544, C.2.2).
func newIsland() *island {
	GinkgoHelper()
	if _, err := exec.LookPath("ip"); err != nil {
		Skip("making network namespaces is not possible here: there is no ip command (iproute2)")
	}
	id := os.Getpid() % 60000
	w := &island{fmt.Sprint("kilter-", id), fmt.Sprint("kilter", id), fmt.Sprintf("198.18.%d.%d", id/60%250, id%60*4+1)}
	there := fmt.Sprintf("198.18.%d.%d/30", id/60%250, id%60*4+2)
	DeferCleanup(func() { _ = ip("netns", "del", w.name) }) // and the link with it
	for _, words := range [][]string{
		{"netns", "add", w.name},
		{"link", "add", w.link, "type", "veth", "peer", "name", "out", "netns", w.name},
		{"addr", "add", w.here + "/30", "dev", w.link},
		{"link", "set", w.link, "up"},
		{"-n", w.name, "addr", "add", there, "dev", "out"},
		{"-n", w.name, "link", "set", "lo", "up"},
		{"-n", w.name, "link", "set", "out", "up"},
		{"netns", "exec", w.name, "true"},
	} {
		if err := ip(words...); err != nil {
			Skip("making network namespaces is not permitted here: " + err.Error())
		}
	}
	return w
}

// cut takes the island from the net, without a word to those who talk over it; mend brings it back.
func (w *island) cut()  { Expect(ip("-n", w.name, "link", "set", "out", "down")).To(Succeed()) }
func (w *island) mend() { Expect(ip("-n", w.name, "link", "set", "out", "up")).To(Succeed()) }

var _ = Describe("a campaign over a network that is cut", func() {
	It("counts each run exactly once and the same, while two of four workers are out of reach for 20 s", func() {
		if testing.Short() {
			Skip("it takes half a minute")
		}
		ctx, cancel := context.WithTimeout(context.Background(), 5*time.Minute)
		DeferCleanup(cancel)
		w := newIsland()
		f := newField(w.here, 4, func(place int) []string {
			if place >= 2 {
				return []string{"ip", "netns", "exec", w.name}
			}
			return nil
		})
		const n = 400
		runs := minutes(n)
		var mended <-chan time.Time
		f.plays(ctx, runs[:n/2:n/2], runs[n/2:], func(done int) {
			if done == n/4 {
				fmt.Fprintln(GinkgoWriter, "the net is cut")
				w.cut()
				mended = time.After(20 * time.Second)
			}
		}, func(s *campaign.Session) {
			Eventually(s.Workers).WithTimeout(30*time.Second).Should(HaveLen(2), "what the two had begun is played by the others")
			<-mended
			fmt.Fprintln(GinkgoWriter, "the net is whole again")
			w.mend()
			Eventually(s.Workers).WithTimeout(2 * time.Minute).Should(HaveLen(4))
		})
	})
})
