// Package webtest walks the pages with a real browser. Tests hand it the
// address of a server and what is to be seen there.
package webtest

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// Browser is a browser with one page open, and what it complained about.
type Browser struct {
	context.Context
	t    *testing.T
	base string
	said *complaints
}

// complaints are what must not happen.
type complaints struct {
	mu   sync.Mutex
	list []string
}

// Open opens a browser for the pages at an address. Where the machine has no
// Chromium the test is skipped; with CI=true it fails.
func Open(t *testing.T, base string) *Browser {
	t.Helper()
	ctx, stop := chromedp.NewExecAllocator(t.Context(), append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(chromium(t)), chromedp.NoSandbox)...)
	t.Cleanup(stop)
	ctx, leave := chromedp.NewContext(ctx)
	t.Cleanup(leave)
	b := &Browser{Context: ctx, t: t, base: strings.TrimSuffix(base, "/"), said: &complaints{}}
	require.NoError(t, chromedp.Listen(ctx, b.listen), "start the browser")
	call(b, network.Enable, network.EnableParams{})
	call(b, log.Enable, cdp.Empty{})
	call(b, runtime.Enable, cdp.Empty{})
	return b
}

// in is the same browser, telling another test.
func (b *Browser) in(t *testing.T) *Browser { return &Browser{b.Context, t, b.base, b.said} }

// call asks the browser itself for something.
func call[P, R any](b *Browser, command cdp.Command[P, R], params P) {
	b.t.Helper()
	_, err := chromedp.Call(b, command, params)
	require.NoError(b.t, err, "%v", command)
}

// chromium finds the browser.
func chromium(t *testing.T) string {
	t.Helper()
	if p := os.Getenv("FORECASTD_CHROMIUM"); p != "" {
		return p
	}
	for _, name := range []string{"chromium", "chromium-browser", "chromium-headless-shell", "google-chrome"} {
		if p, err := exec.LookPath(name); err == nil {
			return p
		}
	}
	if os.Getenv("CI") == "true" {
		t.Fatal("there is no Chromium on this machine, and CI needs it")
	}
	t.Skip("there is no Chromium on this machine: pages are not looked at")
	return ""
}

// listen keeps what must not happen: an error on the console, an exception,
// a request to anyone else.
func (b *Browser) listen(event any) {
	var said string
	switch e := event.(type) {
	case *runtime.EventConsoleAPICalled:
		if e.Type == runtime.ConsoleAPICalledTypeError || e.Type == runtime.ConsoleAPICalledTypeWarning {
			var parts []string
			for _, a := range e.Args {
				parts = append(parts, string(a.Value)+a.Description)
			}
			said = "console: " + strings.Join(parts, " ")
		}
	case *runtime.EventExceptionThrown:
		said = "exception: " + e.ExceptionDetails.Text
	case *log.EventEntryAdded:
		if e.Entry.Level == log.EntryLevelError {
			said = fmt.Sprintf("log: %s (%s)", e.Entry.Text, e.Entry.URL)
		}
	case *network.EventRequestWillBeSent:
		if u := e.Request.URL; !strings.HasPrefix(u, b.base+"/") && !strings.HasPrefix(u, "data:") && !strings.HasPrefix(u, "about:") {
			said = "a request to somebody else: " + u
		}
	}
	if said == "" {
		return
	}
	b.said.mu.Lock()
	defer b.said.mu.Unlock()
	b.said.list = append(b.said.list, said)
}

// Complaints are what went wrong since the last time it was asked.
func (b *Browser) Complaints() []string {
	b.said.mu.Lock()
	defer b.said.mu.Unlock()
	list := b.said.list
	b.said.list = nil
	return list
}

// Go opens a page.
func (b *Browser) Go(path string) {
	b.t.Helper()
	require.NoError(b.t, chromedp.Do(b, chromedp.Navigate(b.base+path)), "open %s", path)
}

// Width makes the window so wide, as a phone where it is narrow.
func (b *Browser) Width(pixels int64) {
	b.t.Helper()
	call(b, emulation.SetDeviceMetricsOverride, emulation.SetDeviceMetricsOverrideParams{Width: pixels, Height: 800, DeviceScaleFactor: 1, Mobile: pixels < 600})
}

// Script turns scripts of pages on or off.
func (b *Browser) Script(on bool) {
	b.t.Helper()
	call(b, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: !on})
}

// Print prints a page on paper of a size in inches and counts the sheets.
func (b *Browser) Print(path string, wide, high float64) int {
	b.t.Helper()
	b.Go(path)
	printed, err := chromedp.Call(b, page.PrintToPDF, page.PrintToPDFParams{PaperWidth: wide, PaperHeight: high})
	require.NoError(b.t, err, "print %s", path)
	return len(regexp.MustCompile(`/Type\s*/Page\b[^s]`).FindAll(printed.Data, -1))
}

// Before runs a script in every page from now on, before its own.
func (b *Browser) Before(script string) {
	b.t.Helper()
	call(b, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: script})
}

// Ask evaluates an expression in the page, waits where it is a promise, and
// reads its value.
func Ask[T any](b *Browser, expression string) T {
	b.t.Helper()
	v, err := chromedp.Run(b, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
	require.NoError(b.t, err, "ask the page: %.80s", expression)
	return v
}

// Send sends a form as the browser would and takes over the cookies that
// come back.
func (b *Browser) Send(path string, values url.Values) {
	b.t.Helper()
	jar, err := cookiejar.New(nil)
	require.NoError(b.t, err)
	client := &http.Client{Jar: jar, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	req, err := http.NewRequestWithContext(b, http.MethodPost, b.base+path, strings.NewReader(values.Encode()))
	require.NoError(b.t, err)
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	req.Header.Set("Origin", b.base)
	res, err := client.Do(req)
	require.NoError(b.t, err)
	require.NoError(b.t, res.Body.Close())
	require.Equal(b.t, http.StatusSeeOther, res.StatusCode, "send %s", path)
	for _, c := range res.Cookies() {
		call(b, network.SetCookie, network.SetCookieParams{Name: c.Name, Value: c.Value, URL: b.base + "/", HTTPOnly: &c.HttpOnly})
	}
}

// Shot saves a picture of the whole page in the folder FORECASTD_SHOTS, where
// one is given.
func (b *Browser) Shot(name string) {
	b.t.Helper()
	dir := os.Getenv("FORECASTD_SHOTS")
	if dir == "" {
		return
	}
	require.NoError(b.t, os.MkdirAll(dir, 0o755))
	png, err := chromedp.Run(b, chromedp.FullScreenshot(100))
	require.NoError(b.t, err)
	require.NoError(b.t, os.WriteFile(filepath.Join(dir, name+".png"), png, 0o644))
}

// axeFile is the accessibility checker (axe-core) that FORECASTD_AXE names;
// empty where it is not there and CI does not need it.
func axeFile(t *testing.T) string {
	t.Helper()
	p := os.Getenv("FORECASTD_AXE")
	if p == "" {
		if os.Getenv("CI") == "true" {
			t.Fatal("FORECASTD_AXE names no axe.min.js, and CI needs it")
		}
		return ""
	}
	b, err := os.ReadFile(p)
	require.NoError(t, err, "FORECASTD_AXE")
	return string(b)
}

// axe lists what a page does against WCAG 2.2 A and AA.
func (b *Browser) axe(script string) []string {
	b.t.Helper()
	Ask[bool](b, script+"; true")
	var found []struct {
		ID, Help string
		Nodes    []struct{ HTML, FailureSummary string }
	}
	text := Ask[string](b, `axe.run(document, {runOnly: {type: "tag", values: ["wcag2a", "wcag2aa", "wcag21aa", "wcag22aa"]}, resultTypes: ["violations"]})
		.then((r) => JSON.stringify(r.violations.map((v) => ({ID: v.id, Help: v.help, Nodes: v.nodes.slice(0, 3).map((n) => ({HTML: n.html, FailureSummary: n.failureSummary}))}))))`)
	require.NoError(b.t, json.Unmarshal([]byte(text), &found))
	var list []string
	for _, v := range found {
		for _, n := range v.Nodes {
			list = append(list, fmt.Sprintf("%s: %s: %s: %s", v.ID, v.Help, n.HTML, n.FailureSummary))
		}
	}
	return list
}

// Login logs in.
func (b *Browser) Login(role, passphrase string) {
	b.t.Helper()
	b.Send("/login", url.Values{"role": {role}, "passphrase": {passphrase}})
}

// Press presses the first thing of a CSS selector and waits for the page that
// comes of it.
func (b *Browser) Press(selector string) {
	b.t.Helper()
	_, err := chromedp.RunResponse(b, chromedp.Click(chromedp.CSS(selector)))
	require.NoError(b.t, err, "press %s", selector)
}
