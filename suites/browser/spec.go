package browser

import (
	"context"
	"testing"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

// ForSpec opens a browser that is closed with the running spec. The spec is skipped where there is none, and with -short.
func ForSpec() *Tab {
	GinkgoHelper()
	if testing.Short() {
		Skip("a browser takes long, and -short was asked for")
	}
	ctx, cancel := context.WithTimeout(context.Background(), 2*time.Minute)
	DeferCleanup(cancel)
	tab, err := Open(ctx)
	if err == ErrMissing {
		Skip(err.Error())
	}
	Expect(err).NotTo(HaveOccurred())
	DeferCleanup(tab.Close)
	return tab
}
