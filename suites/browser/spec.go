package browser

import (
	"context"
	"testing"
	"time"

	"github.com/onsi/ginkgo/v2"
	"github.com/onsi/gomega"
)

// ForSpec opens a browser that is closed with the running spec. The spec is skipped where there is none, and with -short.
func ForSpec() *Tab {
	ginkgo.GinkgoHelper()
	if testing.Short() {
		ginkgo.Skip("a browser takes long, and -short was asked for")
	}
	ctx, cancel := context.WithTimeout(context.Background(), 2*time.Minute)
	ginkgo.DeferCleanup(cancel)
	tab, err := Open(ctx)
	if err == ErrMissing {
		ginkgo.Skip(err.Error())
	}
	gomega.Expect(err).NotTo(gomega.HaveOccurred())
	ginkgo.DeferCleanup(tab.Close)
	return tab
}
