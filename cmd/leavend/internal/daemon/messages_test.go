package daemon

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"html/template"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"net/mail"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/notify"
)

// arrived is a message as the other side of one channel gets it.
type arrived struct {
	Channel, Kind, Raw, Title, Text string
}

// TestMessagesInEachForm sends the same letters through each channel to a
// server that stands in for the other side, and draws what arrives as an
// artefact that a person can look through.
func TestMessagesInEachForm(t *testing.T) {
	if os.Getenv("LEAVEND_REAL_PEERS") == "" {
		t.Skip("set LEAVEND_REAL_PEERS=1 to draw messages in a real browser")
	}
	t.Parallel()
	came := make(chan arrived, 8)
	phone := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		body, _ := io.ReadAll(r.Body)
		came <- arrived{Channel: "phone service", Raw: string(body), Title: r.Header.Get("Title"), Text: string(body)}
		fmt.Fprint(w, `{"id":"x","event":"message"}`)
	}))
	defer phone.Close()
	hook := httptest.NewServer(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
		var b bytes.Buffer
		body, _ := io.ReadAll(r.Body)
		_ = json.Indent(&b, body, "", "  ")
		came <- arrived{Channel: "webhook", Raw: b.String(), Title: r.Header.Get("Webhook-Id"), Text: b.String()}
	}))
	defer hook.Close()
	post := mailServer(t, came)
	at := time.Date(2026, 11, 25, 17, 40, 0, 0, time.UTC)
	words := notify.Renderer{}
	letters := []notify.Message{
		words.Render(notify.Notice{Kind: notify.OnTop, Vessel: "bramble", Name: "Bramble", At: at, RiseRatio: 2.6}, at.Add(10*time.Minute)),
		words.Render(notify.Notice{Kind: notify.MatFault, Vessel: event.SubjectMat, Name: "the mat", At: at, Text: "The vessel reached its cutoff; the mat is off"}, at),
	}
	var all []arrived
	for _, address := range []string{
		"ntfy://" + strings.TrimPrefix(phone.URL, "http://") + "/bramble?scheme=http", hook.URL + "/dough",
		"smtp://" + post + "/?fromaddress=board@kitchen.example&toaddresses=baker@kitchen.example&auth=None&encryption=None&usestarttls=no",
	} {
		sender, err := notify.Open(address, "")
		if err != nil {
			t.Fatal(err)
		}
		for i, l := range letters {
			l.ID, l.Link = fmt.Sprintf("leavend-%s-%d", l.Kind, i), "https://board.example:8420/ack/…"
			if err := sender.Send(t.Context(), l); err != nil {
				t.Fatalf("%s: %v", strings.SplitN(address, ":", 2)[0], err)
			}
			a := <-came
			if a.Kind = string(l.Kind); !strings.Contains(strings.Join(strings.Fields(a.Text), " "), l.Text) {
				t.Errorf("%s: %q does not hold %q", a.Channel, a.Text, l.Text)
			}
			all = append(all, a)
		}
	}
	draw(t, all)
}

// mailServer is as much of SMTP (RFC 5321) as it takes to be sent a mail.
func mailServer(t *testing.T, came chan<- arrived) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { l.Close() })
	go func() {
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			go takeMail(c, came)
		}
	}()
	return l.Addr().String()
}

func takeMail(c net.Conn, came chan<- arrived) {
	defer c.Close()
	in := bufio.NewReader(c)
	fmt.Fprint(c, "220 mail.example\r\n")
	for {
		line, err := in.ReadString('\n')
		if err != nil {
			return
		}
		switch strings.ToUpper(strings.Fields(line + " -")[0]) {
		case "DATA":
			fmt.Fprint(c, "354 go on\r\n")
			var text strings.Builder
			for line, err = in.ReadString('\n'); err == nil && line != ".\r\n"; line, err = in.ReadString('\n') {
				text.WriteString(line)
			}
			a := arrived{Channel: "mail", Raw: text.String()}
			if m, err := mail.ReadMessage(strings.NewReader(text.String())); err == nil {
				body, _ := io.ReadAll(m.Body)
				a.Title, a.Text = m.Header.Get("Subject"), string(body)
			}
			came <- a
			fmt.Fprint(c, "250 taken\r\n")
		case "QUIT":
			fmt.Fprint(c, "221 bye\r\n")
			return
		default:
			fmt.Fprint(c, "250 yes\r\n")
		}
	}
}

// draw makes a picture of what arrived.
func draw(t *testing.T, all []arrived) {
	t.Helper()
	const page = `<!doctype html><meta charset="utf-8"><style>body{font:15px/1.4 serif;background:#efe4cf;padding:24px;display:grid;grid-template-columns:1fr 1fr;gap:16px}
article{background:#fffaf0;border-radius:12px;padding:14px 18px}h1{font-size:16px;margin:0 0 4px}h2{font-size:13px;color:#6a5644;margin:0 0 8px;font-weight:400}pre{font:12px/1.35 monospace;white-space:pre-wrap;overflow-wrap:anywhere;margin:0}</style>
{{range .}}<article><h2>{{.Channel}}, {{.Kind}}</h2><h1>{{.Title}}</h1><pre>{{.Raw}}</pre></article>{{end}}`
	dir, err := filepath.Abs("../../../../artefacts/messages")
	if err != nil {
		t.Fatal(err)
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := template.Must(template.New("").Parse(page)).Execute(&b, all); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(dir, "messages.html")
	if err := os.WriteFile(file, b.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	picture := filepath.Join(dir, "messages.png")
	out, err := exec.CommandContext(t.Context(), "/usr/bin/chromium", "--headless", "--no-sandbox", "--disable-gpu", "--window-size=1200,780", "--screenshot="+picture, "file://"+file).CombinedOutput()
	if err != nil {
		t.Fatalf("chromium: %v\n%s", err, out)
	}
	if info, err := os.Stat(picture); err != nil || info.Size() < 10_000 {
		t.Errorf("the picture: %v", err)
	}
}
