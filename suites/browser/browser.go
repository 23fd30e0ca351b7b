// Package browser opens pages in a real browser, for the tests of those pages. Nothing else imports it,
// and it is the one seam to chromedp.
package browser

import (
	"context"
	"errors"
	"os"
	"os/exec"
	"strings"
	"sync"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// ErrMissing says that no browser was found.
var ErrMissing = errors.New("the browser chromium is missing")

// Tab is one page in a browser of its own.
type Tab struct {
	ctx   context.Context
	close context.CancelFunc

	mutex    sync.Mutex
	console  []string
	requests []string
}

// Open starts a browser. Its end is that of the context, or Close.
func Open(ctx context.Context) (*Tab, error) {
	program, err := exec.LookPath("chromium")
	if err != nil {
		return nil, ErrMissing
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(program), chromedp.DisableGPU)
	if os.Getuid() == 0 { // its sandbox refuses to run as root
		options = append(options, chromedp.NoSandbox)
	}
	ctx, closeBrowser := chromedp.NewExecAllocator(ctx, options...)
	ctx, closeTab := chromedp.NewContext(ctx)
	t := &Tab{ctx: ctx, close: func() { closeTab(); closeBrowser() }}
	go t.listen(chromedp.Console(ctx))
	err = chromedp.Listen(ctx, func(event any) {
		if e, is := event.(*network.EventRequestWillBeSent); is {
			t.mutex.Lock()
			defer t.mutex.Unlock()
			t.requests = append(t.requests, e.Request.URL)
		}
	})
	if err == nil {
		_, err = chromedp.Call(ctx, network.Enable, network.EnableParams{})
	}
	if err != nil {
		t.close()
		return nil, err
	}
	return t, nil
}

func (t *Tab) listen(messages func(func(chromedp.ConsoleMessage, error) bool)) {
	for m, err := range messages {
		if err != nil {
			return
		}
		t.mutex.Lock()
		t.console = append(t.console, m.String())
		t.mutex.Unlock()
	}
}

// Close ends the browser.
func (t *Tab) Close() { t.close() }

// Go opens an address.
func (t *Tab) Go(address string) error { return chromedp.Do(t.ctx, chromedp.Navigate(address)) }

// Size sets the width and the height of the window.
func (t *Tab) Size(width, height int64) error {
	return chromedp.Do(t.ctx, chromedp.EmulateViewport(width, height))
}

// Scheme asks for light or dark.
func (t *Tab) Scheme(name string) error {
	_, err := chromedp.Call(t.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
		Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: name}}})
	return err
}

// Eval runs a script and returns its value, waiting for it if it is a promise. Null is the type's zero.
func Eval[T any](t *Tab, script string) (T, error) {
	return chromedp.Run(t.ctx, chromedp.Evaluate[T](script, chromedp.EvalAwaitPromise))
}

// Keys types text; control keys are those of chromedp's kb.
func (t *Tab) Keys(text string) error { return chromedp.Do(t.ctx, chromedp.KeyEvent(text)) }

// Drag moves the mouse from one place of the window to another with the button held.
func (t *Tab) Drag(x1, y1, x2, y2 float64) error {
	return chromedp.Do(t.ctx,
		chromedp.MouseEvent(chromedp.MouseMoved, x1, y1),
		chromedp.MouseEvent(chromedp.MousePressed, x1, y1, chromedp.ButtonLeft),
		chromedp.MouseEvent(chromedp.MouseMoved, (x1+x2)/2, (y1+y2)/2, chromedp.ButtonLeft),
		chromedp.MouseEvent(chromedp.MouseMoved, x2, y2, chromedp.ButtonLeft),
		chromedp.MouseEvent(chromedp.MouseReleased, x2, y2, chromedp.ButtonLeft))
}

// Hover moves the mouse to a place of the window.
func (t *Tab) Hover(x, y float64) error {
	return chromedp.Do(t.ctx, chromedp.MouseEvent(chromedp.MouseMoved, x, y))
}

// Picture is a PNG of the part of the page from y on that is so high.
func (t *Tab) Picture(width, y, height float64) ([]byte, error) {
	beyond := true
	shot, err := chromedp.Call(t.ctx, page.CaptureScreenshot, page.CaptureScreenshotParams{
		CaptureBeyondViewport: &beyond, Clip: &page.Viewport{Y: y, Width: width, Height: height, Scale: 1}})
	return shot.Data, err
}

// Console is what the page has put on the console so far, errors included.
func (t *Tab) Console() []string {
	t.mutex.Lock()
	defer t.mutex.Unlock()
	return append([]string(nil), t.console...)
}

// Elsewhere are the requests that went to any other address than those with one of the prefixes.
func (t *Tab) Elsewhere(prefixes ...string) []string {
	t.mutex.Lock()
	defer t.mutex.Unlock()
	var others []string
	for _, r := range t.requests {
		known := strings.HasPrefix(r, "data:") || strings.HasPrefix(r, "blob:")
		for _, p := range prefixes {
			known = known || strings.HasPrefix(r, p)
		}
		if !known {
			others = append(others, r)
		}
	}
	return others
}
