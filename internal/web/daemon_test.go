package web_test

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/config"
	"forecastd/internal/app"
	"forecastd/internal/demo"
	"forecastd/internal/models"
	"forecastd/internal/notify"
	"forecastd/internal/store"
	"forecastd/internal/web"
	"forecastd/internal/web/webtest"
)

// postbox takes the daemon's messages in place of a mail server.
type postbox struct {
	mu   sync.Mutex
	list []models.Message
}

func (p *postbox) Send(_ context.Context, m models.Message, _ string) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.list = append(p.list, m)
	return nil
}

// of waits for the first message of a kind whose text matches, and answers
// what was found in it.
func (p *postbox) of(t *testing.T, notice models.Notice, pattern string) string {
	t.Helper()
	var found string
	require.Eventually(t, func() bool {
		p.mu.Lock()
		defer p.mu.Unlock()
		for _, m := range p.list {
			if m.Notice == notice {
				found = regexp.MustCompile(pattern).FindString(m.Text)
			}
		}
		return found != ""
	}, 30*time.Second, 50*time.Millisecond, "a message of the kind %q with %s", notice, pattern)
	return found
}

// demoDaemon is the demo's daemon, telling people: with guests who can be
// reached, so that there are drafts and links.
func demoDaemon(t *testing.T, base string, log io.Writer) (*app.Daemon, *postbox) {
	t.Helper()
	o, err := app.DemoOptions(app.Options{Logger: slog.New(slog.NewTextHandler(log, nil)), Version: "test"}, false)
	require.NoError(t, err)
	text := strings.Replace(string(demo.Config()), "    - name: party of four\n", "    - name: party of four\n      contact: four@example.com\n", 1)
	text = strings.Replace(text, "drafts, trouble]", "drafts, trouble, float plan]", 1)
	text += "\npages: {address: \"" + base + "\"}\n"
	o.Config, err = config.Load(demo.ConfigName, []byte(text))
	require.NoError(t, err)
	box, state := &postbox{}, t.TempDir()
	outNow(t, o, state)
	d, err := app.StartDaemon(t.Context(), app.ServeOptions{
		Options: o, State: state, Listen: app.ListenOff, Channels: map[string]notify.Channel{"e-mail": box},
	})
	require.NoError(t, err)
	t.Cleanup(func() {
		ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
		defer cancel()
		require.NoError(t, d.Stop(ctx))
	})
	return d, box
}

// outNow keeps a plan by which the boat is out, so that it can check in.
func outNow(t *testing.T, o app.Options, state string) {
	t.Helper()
	st, err := app.OpenStore(t.Context(), state, false, o.Now, slog.New(slog.DiscardHandler))
	require.NoError(t, err)
	now, port := o.Now(), o.Config.Ports[0]
	require.NoError(t, st.PlanFloat(t.Context(), store.FloatPlan{
		Port: port.Name, Date: models.DateOf(now, port.Zone), Booking: "today", Boat: "the boat", Ground: port.Grounds[0].Name,
		Leave: now.Add(-5 * time.Hour), Back: now.Add(time.Hour), Overdue: now.Add(2 * time.Hour),
	}))
	require.NoError(t, st.Close())
}

// counted counts what was sent to which form, and what was answered.
type counted struct {
	mu   sync.Mutex
	sent map[string][]int
	to   http.Handler
}

// statused remembers the status of an answer.
type statused struct {
	http.ResponseWriter
	status int
}

func (s *statused) WriteHeader(status int) {
	s.status = status
	s.ResponseWriter.WriteHeader(status)
}

func (s *statused) Unwrap() http.ResponseWriter { return s.ResponseWriter }

func (c *counted) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	out := &statused{ResponseWriter: w, status: http.StatusOK}
	c.to.ServeHTTP(out, r)
	c.mu.Lock()
	defer c.mu.Unlock()
	c.sent[r.Method+" "+r.URL.Path] = append(c.sent[r.Method+" "+r.URL.Path], out.status)
}

// done tells whether a form of the table was sent and taken.
func (c *counted) done(t *testing.T, pattern string) bool {
	t.Helper()
	c.mu.Lock()
	defer c.mu.Unlock()
	path := regexp.MustCompile(`^` + regexp.MustCompile(`\{[a-z]+\}`).ReplaceAllString(pattern, `[^/]+`) + `$`)
	for sent, answers := range c.sent {
		for _, status := range answers {
			if path.MatchString(sent) && status < 400 {
				return true
			}
		}
	}
	return false
}

// captain is a captain before a browser.
type captain struct {
	*webtest.Browser
	t *testing.T
}

// fill writes into the field of a CSS selector.
func (c captain) fill(selector, value string) {
	c.t.Helper()
	require.True(c.t, webtest.Ask[bool](c.Browser, fmt.Sprintf(`((e) => { if (!e) return false; e.value = %q; return true; })(document.querySelector(%q))`, value, selector)), "fill in %s", selector)
}

// does presses a button and sees what the page says then.
func (c captain) does(button string, says ...string) {
	c.t.Helper()
	c.Press(button)
	text := webtest.Ask[string](c.Browser, `document.body.innerText`)
	wrong := webtest.Ask[string](c.Browser, `document.querySelector("#wrong") ? document.querySelector("#wrong").innerText : ""`)
	require.Empty(c.t, wrong, "%s", button)
	for _, s := range says {
		require.Contains(c.t, text, s, "%s", button)
	}
}

// A captain does all that the pages have forms for, in a browser and against
// the real daemon. A form that is added to the table of routes and not done
// here fails.
func TestEveryFormInTheBrowserAgainstTheDaemon(t *testing.T) {
	forms := &counted{sent: map[string][]int{}}
	t.Run("a draft sent", func(t *testing.T) { answersADraft(t, forms, "send", "approved") })
	t.Run("a draft dropped", func(t *testing.T) { answersADraft(t, forms, "drop", "refused") })
	t.Run("all the rest", func(t *testing.T) { doesTheRest(t, forms) })
	rows, err := web.Rows(options(newDesk(t)))
	require.NoError(t, err)
	for _, r := range rows {
		if r.Form {
			require.True(t, forms.done(t, r.Pattern), "nobody did %s in the browser: do it here", r.Pattern)
		}
	}
}

func doesTheRest(t *testing.T, forms *counted) {
	s := httptest.NewServer(forms)
	t.Cleanup(s.Close)
	d, box := demoDaemon(t, s.URL, io.Discard)
	forms.to = d.Handler()
	c := captain{webtest.Open(t, s.URL), t}
	c.Width(390)

	// How he likes the pages, before he logs in and without.
	c.Go("/")
	for _, pick := range [][2]string{{"look", "dark"}, {"language", "es"}, {"units", "metric"}} {
		c.fill(fmt.Sprintf("form.choices select[name=%s]", pick[0]), pick[1])
	}
	c.does("form.choices button", "Decidido")
	require.Equal(t, []string{"es", "look-dark"}, strings.Fields(webtest.Ask[string](c.Browser, `document.documentElement.lang + " " + document.documentElement.className`)))
	for _, pick := range [][2]string{{"look", "light"}, {"language", "en"}, {"units", "nautical"}} {
		c.fill(fmt.Sprintf("form.choices select[name=%s]", pick[0]), pick[1])
	}
	c.does("form.choices button", "Called")

	// The links of the messages need no login.
	box.of(t, models.NoticeCall, `.+`)
	link := strings.TrimPrefix(box.of(t, models.NoticeDraft, `http://\S+/link/\S+`), s.URL)
	c.Go(link)
	c.does("main form button", "Done")
	box.of(t, models.NoticeGuests, `.+`)

	// Out of the charters he comes to the page to log in, and back.
	c.Go("/charters")
	require.True(t, webtest.Ask[bool](c.Browser, `(() => { document.querySelector("input[name=role][value=captain]").checked = true; return true; })()`))
	c.fill("#passphrase", "demo captain")
	c.does(`form[action="/login"] button`, "party of four", "four@example.com")
	require.Equal(t, "/charters", webtest.Ask[string](c.Browser, `location.pathname`))

	for _, one := range []struct{ press, says string }{
		{`button[name=say][value=today]`, "today"},
		{`button[name=say][value=yes]`, "showering"},
		{`button[name=say][value="blue edge"]`, "blue edge"},
	} {
		c.Go("/reports")
		c.does(one.press, one.says)
	}
	c.Go("/reports")
	c.fill("#edge-depth", "140")
	c.does(`button[name=say][value=in]`, "140 ft")
	c.fill("#inlet-from", "13:00")
	c.does(`button[name=say][value=from]`, "13:00")

	c.Go("/bait")
	c.fill("#new-kind", "pilchard")
	c.fill("#new-count", "24")
	c.does(`form:has(#new-kind) button`, "pilchard", "24")
	c.does(`button[name=step][value="10"]`)

	c.Go("/log")
	today := webtest.Ask[string](c.Browser, `document.querySelector("#write-date").value`)
	c.fill("#write-tactic", "kite")
	c.fill("#write-wind", "14")
	c.fill("#write-note", "two released on the <long> bait")
	c.does(`form:has(#write-note) button`, "two released on the <long> bait")
	c.does(`form[action="/checkin"] button`, "back inside at")

	c.Go("/")
	c.does(`form[action="/call"] button`)

	// The charter: moved by a day, told so on its page, and then called off.
	tomorrow, err := models.ParseDate(today)
	require.NoError(t, err)
	later := tomorrow.AddDays(3).String()
	c.Go("/charters")
	c.fill(`form[action$="/move"] input[name=date]`, later)
	c.fill(`form[action$="/move"] input[name=why]`, "north wind")
	c.does(`form[action$="/move"] button`, "moved: "+later, "north wind")
	c.Go("/charters")
	require.Equal(t, later, webtest.Ask[string](c.Browser, `document.querySelector('form[action$="/move"] input[name=date]').value`))
	require.True(t, webtest.Ask[bool](c.Browser, `(() => { document.querySelector("main details").open = true; document.querySelector("input[name=sure]").checked = true; return true; })()`))
	c.fill(`form[action$="/cancel"] input[name=why]`, "no bait")
	c.does(`form[action$="/cancel"] button`, "cancelled: "+later)
	require.False(t, webtest.Ask[bool](c.Browser, `!!document.querySelector('form[action$="/move"], form[action$="/cancel"]')`), "what is called off can't be moved")

	for _, out := range []string{"/logout", "/logout/everywhere"} {
		c.Go("/login")
		c.does(`form[action="` + out + `"] button`)
		c.Go("/charters")
		require.Equal(t, "/login", webtest.Ask[string](c.Browser, `location.pathname`))
		c.Login(string(web.Captain), "demo captain")
	}

	require.Empty(t, c.Complaints())
}

// answersADraft answers a draft that waits on the page of the charters.
func answersADraft(t *testing.T, forms *counted, say, becomes string) {
	d, box := demoDaemon(t, "http://127.0.0.1:1", io.Discard)
	forms.to = d.Handler()
	s := httptest.NewServer(forms)
	t.Cleanup(s.Close)
	box.of(t, models.NoticeDraft, `http://\S+/link/\S+`)
	c := captain{webtest.Open(t, s.URL), t}
	c.Login(string(web.Captain), "demo captain")
	c.Go("/charters")
	c.does(`button[name=say][value=`+say+`]`, becomes)
	require.False(t, webtest.Ask[bool](c.Browser, `!!document.querySelector("button[name=say]")`), "it waits no more")
	require.Empty(t, c.Complaints())
}
