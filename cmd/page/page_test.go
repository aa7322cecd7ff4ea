//go:build !js

package main

import (
	"bufio"
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	system "runtime"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/dom"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/blink"
	"tallywink.example/channelplan"
)

// These tests open the page in a real browser. They are skipped if chromium is not
// installed, except in CI.

func chromium(t testing.TB) string {
	t.Helper()
	path, err := exec.LookPath("chromium")
	if err != nil && os.Getenv("CI") == "" {
		t.Skip("chromium is not installed")
	}
	require.NoError(t, err)
	return path
}

// program builds the command once, with the page inside.
var program = sync.OnceValues(func() (string, error) {
	if out, err := exec.Command(filepath.Join("..", "..", ".ci", "build-page.sh")).CombinedOutput(); err != nil {
		return "", fmt.Errorf("%w: %s", err, out)
	}
	dir, err := os.MkdirTemp("", "tallywink-page-")
	if err != nil {
		return "", err
	}
	path := filepath.Join(dir, "tallywink")
	out, err := exec.Command("go", "build", "-tags", "page", "-o", path,
		"tallywink.example/cmd/tallywink").CombinedOutput()
	if err != nil {
		return "", fmt.Errorf("%w: %s", err, out)
	}
	return path, nil
})

// write writes the page into a folder.
func write(t testing.TB, folder string, args ...string) {
	t.Helper()
	path, err := program()
	require.NoError(t, err)
	out, err := exec.Command(path, append([]string{"page", folder}, args...)...).CombinedOutput()
	require.NoError(t, err, string(out))
}

// served is a plain web server for the page's folder that counts requests.
type served struct {
	*httptest.Server
	folder string
	asked  atomic.Int64
}

func serve(t testing.TB, args ...string) *served {
	t.Helper()
	s := &served{folder: filepath.Join(t.TempDir(), "www")}
	write(t, s.folder, args...)
	files := http.FileServer(http.Dir(s.folder))
	s.Server = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.asked.Add(1)
		files.ServeHTTP(w, r)
	}))
	t.Cleanup(s.Close)
	return s
}

// browser is a browser with one page.
type browser struct {
	context.Context
	t       testing.TB
	browser context.Context // without the time limit
	errors  []string
	stop    func()
}

// profile returns a folder for a browser's own files. The browser may still write there
// after the test has ended.
func profile(t testing.TB) string {
	t.Helper()
	dir, err := os.MkdirTemp("", "tallywink-browser-")
	require.NoError(t, err)
	t.Cleanup(func() { _ = os.RemoveAll(dir) })
	return dir
}

func browse(t testing.TB, profile string, flags ...chromedp.ExecAllocatorOption) *browser {
	t.Helper()
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(chromium(t)), chromedp.NoSandbox,
		chromedp.UserDataDir(profile),
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-background-networking", true),
		chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true))
	allocated, stopAllocated := chromedp.NewExecAllocator(context.Background(), append(options, flags...)...)
	ctx, stop := chromedp.NewContext(allocated)
	b := &browser{t: t, browser: ctx, stop: func() { stop(); stopAllocated() }}
	var cancel context.CancelFunc
	// A hang ends; a slow, busy machine still gets there.
	b.Context, cancel = context.WithTimeout(ctx, 8*time.Minute)
	t.Cleanup(func() { cancel(); b.stop() })
	chromedp.ListenTarget(b, func(e any) {
		if e, ok := e.(*runtime.EventExceptionThrown); ok {
			b.errors = append(b.errors, e.ExceptionDetails.Error())
		}
	})
	return b
}

// do performs actions on the page; a failure is reported together with what the page
// shows.
func (b *browser) do(what string, actions ...chromedp.Action) {
	b.t.Helper()
	if err := chromedp.Run(b, actions...); err != nil {
		// The page's own time may be over.
		var text string
		late, cancel := context.WithTimeout(b.browser, 10*time.Second)
		defer cancel()
		_ = chromedp.Run(late, chromedp.Evaluate(`document.body ? document.body.innerText : ''`, &text))
		require.NoError(b.t, err, "%s; the page shows:\n%s\nerrors: %v", what, text, b.errors)
	}
}

// open opens the page, and waits until it is ready.
func (b *browser) open(url string) {
	b.t.Helper()
	b.do("opening", chromedp.EmulateViewport(360, 740), chromedp.Navigate(url),
		chromedp.WaitReady(`body[data-ready=yes]`, chromedp.ByQuery))
}

func (b *browser) text(selector string) (text string) {
	b.t.Helper()
	b.do("reading "+selector, chromedp.WaitVisible(selector, chromedp.ByQuery),
		chromedp.Poll(fmt.Sprintf("document.querySelector(%q).innerText.trim() !== ''", selector), nil),
		chromedp.Text(selector, &text, chromedp.ByQuery))
	return text
}

func (b *browser) eval(script string, into any) {
	b.t.Helper()
	b.do("asking", chromedp.Evaluate(script, into,
		func(p *runtime.EvaluateParams) *runtime.EvaluateParams { return p.WithAwaitPromise(true) }))
}

func click(selector string) chromedp.Action { return chromedp.Click(selector, chromedp.ByQuery) }

func keys(selector, text string) chromedp.Action {
	return chromedp.SendKeys(selector, text, chromedp.ByQuery)
}

// film writes a clip of a lamp in Y4M format: a disk on a noisy background. The lamp
// repeats the intervals of light.
func film(t testing.TB, path string, light []blink.Interval, seconds, rate int) {
	t.Helper()
	const width, height = 320, 240
	f, err := os.Create(path)
	require.NoError(t, err)
	defer f.Close()
	out := bufio.NewWriterSize(f, 1<<20)
	fmt.Fprintf(out, "YUV4MPEG2 W%d H%d F%d:1 C420jpeg\n", width, height, rate)
	var period time.Duration
	for _, iv := range light {
		period += iv.Duration
	}
	random := rand.New(rand.NewPCG(4, 4))
	noise := make([]float64, 1<<16)
	for i := range noise {
		noise[i] = 3 * random.NormFloat64()
	}
	for n := range seconds * rate {
		at, lit := time.Duration(n)*time.Second/time.Duration(rate)%period, false
		for _, iv := range light {
			if at < iv.Duration {
				lit = iv.Lit
				break
			}
			at -= iv.Duration
		}
		out.WriteString("FRAME\n")
		from := random.IntN(len(noise))
		for y := range height {
			for x := range width {
				v := 80 + 30*math.Sin(float64(x)/17)*math.Cos(float64(y)/23) + noise[(from+y*width+x)%len(noise)]
				if lit && math.Hypot(float64(x)-170, float64(y)-110) < 8 {
					v += 110
				}
				out.WriteByte(uint8(min(max(v, 0), 255)))
			}
		}
		for range width * height / 2 {
			out.WriteByte(128)
		}
	}
	require.NoError(t, out.Flush())
}

func lightOf(t testing.TB, s blink.Signal) []blink.Interval {
	t.Helper()
	light, _, err := blink.Tally.Signal(s, 200*time.Millisecond)
	require.NoError(t, err)
	return light
}

var locked116 = blink.Signal{State: blink.Locked, Pilot: channelplan.Pilot{Channel: 116, Kind: channelplan.Digital}}

// fakeCamera makes the browser use a clip as its camera.
func fakeCamera(path string) []chromedp.ExecAllocatorOption {
	return []chromedp.ExecAllocatorOption{chromedp.Flag("use-fake-device-for-media-stream", true),
		chromedp.Flag("use-fake-ui-for-media-stream", true),
		chromedp.Flag("use-file-for-fake-video-capture", path)}
}

// busyUntil is when a test stops waiting for a calm machine.
var busyUntil = time.Now().Add(12 * time.Minute)

// calm waits until the machine has time for a camera, which delivers its pictures in real
// time: those that come while other packages' tests have the processors are lost.
func calm(t testing.TB) {
	for ; time.Now().Before(busyUntil); time.Sleep(2 * time.Second) {
		text, err := os.ReadFile("/proc/loadavg")
		if err != nil {
			return // this system does not say
		}
		var load float64 // runnable threads, over the last minute
		_, err = fmt.Sscan(string(text), &load)
		require.NoError(t, err)
		if load < float64(system.NumCPU()) {
			return
		}
	}
}

// The whole path: a camera, a lamp made by our encoder, on a phone four times as slow, up
// to SURE, the verdict and the next step. The test logs how many pictures were taken per
// second.
func TestCamera(t *testing.T) {
	calm(t)
	clip := filepath.Join(t.TempDir(), "lamp.y4m")
	film(t, clip, lightOf(t, locked116), 44, 20)
	s := serve(t, "--lineup", "demo", "--amps", "demo")
	b := browse(t, profile(t), fakeCamera(clip)...)
	b.open(s.URL)
	b.do("slow", emulation.SetCPUThrottlingRate(4))
	b.do("the camera", keys("#amp", "OSR-03"), click("#camera"))
	text := b.text("#answer .headline + .headline")
	assert.Contains(t, text, "116 DIGITAL, LOCKED")
	assert.Contains(t, text, "usable")
	answer := b.text("#answer")
	assert.Contains(t, answer, "SURE")
	assert.Contains(t, answer, "Note the reading")
	var seconds float64
	var pictures int
	i := strings.Index(answer, " s in ")
	require.Positive(t, i, answer)
	_, err := fmt.Sscanf(answer[strings.LastIndex(answer[:i], "\n")+1:], "%f s in %d pictures", &seconds, &pictures)
	require.NoError(t, err, answer)
	t.Logf("%.0f pictures a second, on a phone four times as slow", float64(pictures)/seconds)
	b.do("files", click("nav [data-tab=files]"))
	assert.Contains(t, b.text("#kept"), "1 readings")
	assert.Empty(t, b.errors)
}

// A harder clip, none of it ours: ffmpeg's own test pictures, some of which move, held by
// a shaking hand; the frame's times are written out from the code's specification: 116
// digital, _.. . _. _.. at 200 ms.
func TestHarderCamera(t *testing.T) {
	chromium(t)
	calm(t)
	clip := filepath.Join(t.TempDir(), "lamp.y4m")
	var pulses []string
	for _, p := range [][2]float64{{0, 0.6}, {0.8, 1}, {1.2, 1.4}, {2.2, 2.4}, {3.2, 3.8}, {4, 4.2}, {5, 5.6},
		{5.8, 6}, {6.2, 6.4}} {
		pulses = append(pulses, fmt.Sprintf("between(mod(t,8.8),%g,%g)", p[0], p[1]-0.001))
	}
	out, err := exec.Command("ffmpeg", "-loglevel", "error", "-f", "lavfi", "-i", "testsrc2=size=480x360:rate=20",
		"-t", "52.8", "-vf",
		"drawbox=x=320:y=230:w=17:h=17:color=0x181818:t=fill,drawbox=x=322:y=232:w=13:h=13:color=white:t=fill:enable='"+
			strings.Join(pulses, "+")+"',noise=alls=10:allf=t,crop=440:320:'20+5*sin(t*7.1)':'20+4*sin(t*5.3)'",
		"-pix_fmt", "yuv420p", clip).CombinedOutput()
	require.NoError(t, err, "%s", out)
	s := serve(t)
	b := browse(t, profile(t), fakeCamera(clip)...)
	b.open(s.URL)
	b.do("the camera", click("#camera"))
	assert.Contains(t, b.text("#answer .headline + .headline"), "116 DIGITAL, LOCKED")
}

// A video file takes the same path; and one of a turn signal, which is not a signal of
// the code.
func TestVideoFile(t *testing.T) {
	chromium(t)
	dir := t.TempDir()
	turn := []blink.Interval{{Lit: true, Duration: 380 * time.Millisecond}, {Duration: 330 * time.Millisecond}}
	s := serve(t)
	b := browse(t, profile(t), chromedp.Flag("autoplay-policy", "no-user-gesture-required"))
	b.open(s.URL)
	for _, c := range []struct {
		name  string
		light []blink.Interval
		says  string
	}{{"lamp", lightOf(t, locked116), "116 DIGITAL, LOCKED"}, {"turn", turn, "does not clearly follow"}} {
		raw, video := filepath.Join(dir, c.name+".y4m"), filepath.Join(dir, c.name+".webm")
		film(t, raw, c.light, 18, 20)
		out, err := exec.Command("ffmpeg", "-loglevel", "error", "-i", raw, "-c:v", "libvpx", "-b:v", "1M",
			video).CombinedOutput()
		require.NoError(t, err, "%s", out)
		b.upload("#clip", video)
		b.do("the stage", chromedp.WaitVisible("#progress", chromedp.ByQuery))
		b.do("the answer", chromedp.WaitNotVisible("#stage", chromedp.ByQuery))
		assert.Contains(t, b.text("#answer"), c.says)
		b.eval(`document.getElementById('answer').replaceChildren()`, nil)
	}
	assert.Empty(t, b.errors)
}

// upload gives a file to a file field.
func (b *browser) upload(selector, path string) {
	b.t.Helper()
	var nodes []*cdp.Node
	b.do("uploading", chromedp.Nodes(selector, &nodes, chromedp.ByQuery),
		chromedp.ActionFunc(func(ctx context.Context) error {
			return dom.SetFileInputFiles([]string{path}).WithNodeID(nodes[0].NodeID).Do(ctx)
		}))
}

// Taps at human speed on the two large buttons.
func TestTaps(t *testing.T) {
	s := serve(t, "--lineup", "demo")
	b := browse(t, profile(t))
	b.open(s.URL)
	b.do("tap along", click("#tapalong"), chromedp.WaitVisible("#taps", chromedp.ByQuery))
	b.eval(`(async () => {
  const tap = k => document.querySelector('[data-tap="' + k + '"]').dispatchEvent(new PointerEvent('pointerdown', { bubbles: true, cancelable: true }));
  const wait = ms => new Promise(done => setTimeout(done, ms));
  for (const [k, ms] of [['_', 430], ['.', 390], ['.', 1050], ['.', 1500], ['_', 420], ['.', 1480], ['_', 400], ['.', 380], ['.', 1500]]) { tap(k); await wait(ms); }
})()`, nil)
	assert.Contains(t, b.text("#taprows"), "SURE: 116 digital")
	b.do("done", chromedp.Evaluate(`document.querySelector('[data-tap=Enter]').click()`, nil))
	assert.Contains(t, b.text("#answer .headline"), "116 DIGITAL, LOCKED")
	assert.Empty(t, b.errors)
}

// Typed marks, a rhythm, a check, a place in the plan, and what an amplifier should show.
func TestTyping(t *testing.T) {
	s := serve(t, "--lineup", "demo", "--amps", "demo")
	b := browse(t, profile(t))
	b.open(s.URL)
	b.do("typing", click("nav [data-tab=type]"))
	for _, mark := range "_.. . _. _.." {
		b.do("a mark", click(fmt.Sprintf(`[data-mark="%c"]`, mark)))
	}
	b.do("reading", click("#decode"))
	assert.Contains(t, b.text("#typed .headline"), "116 DIGITAL, LOCKED")
	b.do("a rhythm", click("#clear"), click("#states button:nth-child(6)"))
	assert.Contains(t, b.text("#typed .headline"), "HOLDING")
	b.do("nothing", click("#clear"), click("#decode"))
	assert.Contains(t, b.text("#typed [role=alert]"), "there is nothing to read")
	b.do("a check", click("nav [data-tab=check]"), keys("#channel", "8"),
		chromedp.SetValue("#carrier", "analog", chromedp.ByQuery), click("#judge"))
	assert.Contains(t, b.text("#judged"), "part-time")
	b.do("near", keys("#mhz", "747"), click("#near"))
	assert.Contains(t, b.text("#found"), "channel 116")
	b.do("a lamp", click("#show"), chromedp.WaitVisible("#lamp.lit", chromedp.ByQuery),
		click("#session [data-key=Escape]"), chromedp.WaitVisible("#judge", chromedp.ByQuery))
	b.do("an amplifier", click("nav [data-tab=look]"), keys("#amp", "OSR-03\t"))
	b.do("expected", chromedp.Poll(`document.getElementById('expect').textContent.includes('_.. . _. _..')`, nil))
	assert.Empty(t, b.errors)
}

// After it has loaded once, the page needs no server: it sends no more requests, and it
// opens again when the server is gone. A newer page announces itself, and takes over when
// told to.
func TestOffline(t *testing.T) {
	s := serve(t, "--lineup", "demo")
	profile := profile(t)
	b := browse(t, profile)
	b.open(s.URL)
	b.do("kept", chromedp.WaitReady(`body[data-offline=yes]`, chromedp.ByQuery))
	before := s.asked.Load()
	b.do("use", click("nav [data-tab=type]"), keys("#digits", "7167"), click("#decode"))
	assert.Contains(t, b.text("#typed .headline"), "usable")
	b.do("more", click("nav [data-tab=files]"), click("nav [data-tab=learn]"), keys("#trainee", "Ada"),
		click("#train"), chromedp.WaitVisible("#rows", chromedp.ByQuery), click("#session [data-key=Escape]"))
	assert.Equal(t, before, s.asked.Load(), "nothing is asked after the first load")

	write(t, s.folder, "--lineup", "demo", "--sheet", "curlew")
	b.do("again", chromedp.Reload(), chromedp.WaitReady(`body[data-ready=yes]`, chromedp.ByQuery))
	assert.Contains(t, b.text("#newer"), "A newer Tallywink is ready")
	b.do("use it", click("#reload"), chromedp.Sleep(2*time.Second)) // the page reloads itself
	b.do("files", chromedp.WaitReady(`body[data-ready=yes]`, chromedp.ByQuery),
		chromedp.WaitNotVisible("#newer", chromedp.ByQuery), click("nav [data-tab=files]"))
	assert.Contains(t, b.text("#files"), "curlew")

	s.Close()
	b.do("without a server", chromedp.Navigate(s.URL), chromedp.WaitReady(`body[data-ready=yes]`, chromedp.ByQuery),
		click("nav [data-tab=type]"), keys("#digits", "733"), click("#decode"))
	assert.Contains(t, b.text("#typed .headline"), "73 CW")
	assert.Empty(t, b.errors)
}

// shows waits until a session shows a text.
func shows(text string) chromedp.Action {
	return chromedp.Poll(fmt.Sprintf("document.getElementById('rows').textContent.includes(%q)", text), nil)
}

// What was read is still there after the browser is killed.
func TestKilledBrowser(t *testing.T) {
	s := serve(t, "--lineup", "demo", "--amps", "demo")
	profile := profile(t)
	b := browse(t, profile)
	b.open(s.URL)
	b.do("doubtful: this does not fit any frame. Was it another lamp, or too many miscounts?", keys("#amp", "OSR-03"),
		click("nav [data-tab=type]"), keys("#digits", "7167"), click("#decode"))
	assert.Contains(t, b.text("#typed .headline"), "usable")
	b.do("an answer", click("nav [data-tab=learn]"), keys("#trainee", "Ada"), click("#train"),
		chromedp.WaitVisible("#rows", chromedp.ByQuery),
		// A click goes to a position on the screen, and rows drawn in the meantime move the
		// keys: wait for each.
		click("#session [data-key=Enter]"), shows("Wait for the long dark"), click("#session [data-key=Enter]"),
		shows("Answer:"),
		click("#session [data-key=u]"), shows("Answer: not sure"), click("#session [data-key=Enter]"))
	b.do("told", shows("NOT SURE"))
	require.NoError(t, chromedp.FromContext(b).Browser.Process().Kill())
	b.stop()
	for _, lock := range []string{"SingletonLock", "SingletonCookie", "SingletonSocket"} {
		os.Remove(filepath.Join(profile, lock)) // left behind by the killed browser
	}
	b = browse(t, profile)
	b.open(s.URL)
	b.do("files", click("nav [data-tab=files]"))
	assert.Contains(t, b.text("#kept"), "1 readings, 1 answers")
	var book string
	b.eval(`(async () => lines(await recordsOf('reading')) + lines(await recordsOf('attempt')))()`, &book)
	path := filepath.Join(t.TempDir(), "book.jsonl")
	require.NoError(t, os.WriteFile(path, []byte(book), 0o600))
	tallywink, err := program()
	require.NoError(t, err)
	out, err := exec.Command(tallywink, "progress", "--book", path).CombinedOutput()
	require.NoError(t, err, string(out))
	assert.Contains(t, string(out), "Ada")
	out, _ = exec.Command(tallywink, "audit", "--book", path, "--amps", "demo", "--lineup",
		"demo").CombinedOutput() // bad news exits with status 1
	assert.Contains(t, string(out), "1 read")
}

// Texts in a lineup that try to be markup or a script are shown as text, and nothing
// else.
func TestHostileFiles(t *testing.T) {
	path := filepath.Join(t.TempDir(), "lineup.csv")
	require.NoError(t,
		os.WriteFile(path,
			[]byte("# name: <img src=x onerror=window.hacked=1><script>window.hacked=2</script>\nchannel,carrier,service\n116,qam256,\"<b onclick='window.hacked=3'>javascript:window.hacked=4</b>\"\n"),
			0o600))
	s := serve(t)
	b := browse(t, profile(t))
	b.open(s.URL)
	b.do("files", click("nav [data-tab=files]"))
	b.upload("#file-lineup", path)
	b.do("opened", chromedp.Poll(`document.getElementById('said').textContent.includes('1 carriers')`, nil))
	b.do("typed", click("nav [data-tab=type]"), keys("#digits", "7167"), click("#decode"))
	assert.Contains(t, b.text("#typed"), "<b onclick=")
	var found struct {
		Hacked   bool `json:"hacked"`
		Elements int  `json:"elements"`
	}
	b.eval(`({ hacked: 'hacked' in window, elements: document.querySelectorAll('img, b, main script').length })`,
		&found)
	assert.False(t, found.Hacked)
	assert.Zero(t, found.Elements)
	var refused string
	b.eval(`new Promise(done => { addEventListener('securitypolicyviolation', e => done(e.effectiveDirective)); const s = document.createElement('script'); s.textContent = 'window.hacked = 5'; document.body.append(s); })`,
		&refused)
	assert.Contains(t, refused, "script-src")
}

// Every page at 320 and 1280 pixels, light and dark: nothing is wider than the screen,
// everything that can be pressed is at least 48 pixels, and axe-core finds no violations
// (WCAG 2.2 AA and the contrast of AAA, 7:1). TALLYWINK_AXE says where axe-core is;
// without it, that part is skipped, except in CI.
func TestAccessible(t *testing.T) {
	axe := os.Getenv("TALLYWINK_AXE")
	if axe == "" {
		require.Empty(t, os.Getenv("CI"), "CI says where axe-core is")
	}
	s := serve(t, "--lineup", "demo", "--amps", "demo")
	b := browse(t, profile(t))
	b.open(s.URL)
	for _, scheme := range []string{"light", "dark"} {
		for _, width := range []int64{320, 1280} {
			b.do("size", chromedp.EmulateViewport(width, 740),
				emulation.SetEmulatedMedia().WithFeatures([]*emulation.MediaFeature{{Name: "prefers-color-scheme",
					Value: scheme}}))
			for _, tab := range []string{"look", "type", "check", "learn", "files"} {
				b.do("tab", click("nav [data-tab="+tab+"]"))
				switch tab {
				case "type":
					b.do("an answer", chromedp.SetValue("#digits", "7166", chromedp.ByQuery), click("#decode"),
						chromedp.WaitVisible("#typed .headline", chromedp.ByQuery))
				case "check":
					b.do("a verdict", chromedp.SetValue("#channel", "138", chromedp.ByQuery), click("#judge"),
						chromedp.WaitVisible("#judged .headline", chromedp.ByQuery))
				}
				name := fmt.Sprintf("%s at %d, %s", tab, width, scheme)
				var seen struct {
					Wide  int64    `json:"wide"`
					Small []string `json:"small"`
				}
				b.eval(`({ wide: Math.max(document.documentElement.scrollWidth, document.querySelector('main').scrollWidth), small: [...document.querySelectorAll('button, .button, select, input:not([type=checkbox]):not(.out)')].filter(e => e.offsetParent && (e.offsetHeight < 48 || e.offsetWidth < 48)).map(e => e.id + e.textContent) })`,
					&seen)
				assert.LessOrEqual(t, seen.Wide, width, name)
				assert.Empty(t, seen.Small, name)
				if dir := os.Getenv("TALLYWINK_PICTURES"); dir != "" {
					var picture []byte
					b.do("a picture", chromedp.FullScreenshot(&picture, 100))
					require.NoError(t, os.WriteFile(filepath.Join(dir, strings.ReplaceAll(name, " ", "-")+".png"),
						picture, 0o644))
				}
				if axe == "" {
					continue
				}
				script, err := os.ReadFile(axe)
				require.NoError(t, err)
				var problems []string
				b.eval(string(script)+`; axe.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa'], rules: { 'color-contrast-enhanced': { enabled: true } } }).then(r => r.violations.map(v => v.id + ': ' + v.nodes.map(n => n.html).join(' ')))`,
					&problems)
				assert.Empty(t, problems, name)
			}
		}
	}
}

// The page is written only to a folder of its own; when served, it is for this machine
// only unless told otherwise, and nothing but its files is served.
func TestFolderAndServer(t *testing.T) {
	path, err := program()
	require.NoError(t, err)
	folder := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(folder, "mine.txt"), nil, 0o600))
	out, err := exec.Command(path, "page", folder).CombinedOutput()
	require.Error(t, err)
	assert.Contains(t, string(out), "has something in it that is not part of the page: mine.txt")
	entries, err := os.ReadDir(folder)
	require.NoError(t, err)
	assert.Len(t, entries, 1)

	cmd := exec.Command(path, "page", "--serve", ":0")
	stdout, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	defer func() {
		require.NoError(t, cmd.Process.Signal(os.Interrupt))
		require.NoError(t, cmd.Wait())
	}()
	line, err := bufio.NewReader(stdout).ReadString('\n')
	require.NoError(t, err)
	address := strings.Fields(line)[1]
	require.Regexp(t, `^http://(127\.0\.0\.1|\[::1\]):`, address)
	for _, c := range []struct {
		path   string
		status int
	}{{"/", 200}, {"/page.wasm.gz", 200}, {"/sw.js", 200}, {"/../site.go", 404}, {"/static/index.html", 404}} {
		r, err := http.Get(address + c.path)
		require.NoError(t, err)
		r.Body.Close()
		assert.Equal(t, c.status, r.StatusCode, c.path)
		if c.status == 200 {
			assert.Contains(t, r.Header.Get("Content-Security-Policy"), "default-src 'none'")
		}
	}
}

// BenchmarkPage reports how long it takes from opening the page, with a warm cache, to
// the answer to typed marks; and what a picture of 640 x 480 costs in the browser
// (BenchmarkLive of package capture measures the same natively), and how much memory the
// program has then.
func BenchmarkPage(b *testing.B) {
	s := serve(b, "--lineup", "demo")
	page := browse(b, profile(b))
	page.open(s.URL)
	page.do("kept", chromedp.WaitReady(`body[data-offline=yes]`, chromedp.ByQuery))
	b.Run("answer", func(b *testing.B) {
		for b.Loop() {
			page.open(s.URL)
			page.do("typed", click("nav [data-tab=type]"), keys("#digits", "7167"), click("#decode"),
				chromedp.WaitVisible("#typed .headline", chromedp.ByQuery))
		}
	})
	b.Run("picture", func(b *testing.B) {
		const pictures = 600
		var spent float64
		for b.Loop() {
			var ms float64
			page.eval(fmt.Sprintf(`(async () => {
  const eye = new Program(); await eye.ready; await eye.call('begin', { width: 640, height: 480 });
  let pixels = new Uint8Array(640 * 480 * 4).map((_, i) => i * 7919 >> 5).buffer;
  const start = performance.now();
  for (let i = 0; i < %d; i++) ({ pixels } = await eye.send({ ms: i * 33, pixels }, [pixels]));
  const spent = performance.now() - start;
  eye.worker.terminate();
  return spent;
})()`, pictures), &ms)
			spent += ms / pictures
		}
		b.ReportMetric(spent/float64(b.N), "ms/picture")
	})
}
