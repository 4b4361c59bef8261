package web

import (
	"net"
	"net/http"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"syscall"
	"testing"
)

// TestThroughProxy has the ways in which proxies on this machine pass a request
// on: none of them makes a visitor one who is at the machine.
func TestThroughProxy(t *testing.T) {
	for _, tt := range []struct {
		name, host, header, value string
		local                     bool
	}{
		{"a browser at the board", "127.0.0.1:8420", "Origin", "http://127.0.0.1:8420", true},
		{"by its short name", "localhost:8420", "", "", true},
		{"in IPv6", "[::1]:8420", "", "", true},
		{"headers of a proxy", "127.0.0.1:8420", "X-Forwarded-Proto", "https", false},
		{"the name kept, without headers", "kitchen.example", "", "", false},
		{"the name rewritten, the origin kept", "127.0.0.1:8420", "Origin", "https://kitchen.example", false},
		{"an origin that is none", "127.0.0.1:8420", "Origin", "http://[kitchen", false},
	} {
		_, _, v := newKitchen(t, Opts{Hosts: []string{"kitchen.example"}})
		v.host = tt.host
		if tt.header != "" {
			v.header.Set(tt.header, tt.value)
		}
		_, got := v.do("GET", "/api/v1/session", "")
		if got["at_the_machine"] != tt.local || got["may_change"] != tt.local {
			t.Errorf("%s: %v, want at the machine %v", tt.name, got, tt.local)
		}
	}
}

// TestServiceAtTheOtherEnd has a real process of a service's account connect:
// without any header it is not at the machine.
func TestServiceAtTheOtherEnd(t *testing.T) {
	if os.Getuid() != 0 {
		t.Skip("only root can take another account")
	}
	_, s, _ := newKitchen(t, Opts{})
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	done := make(chan error, 1)
	go func() { done <- s.Serve(t.Context(), l) }()
	curl, err := exec.LookPath("curl")
	if err != nil {
		t.Skip("no curl here")
	}
	for uid, local := range map[uint32]bool{0: true, 33: false, 1000: true} {
		cmd := exec.Command(curl, "-s", "http://"+l.Addr().String()+"/api/v1/session")
		cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: uid, Gid: uid}}
		cmd.Dir = "/"
		out, err := cmd.CombinedOutput()
		if err != nil {
			t.Fatalf("%d: %v: %s", uid, err, out)
		}
		if got := strings.Contains(string(out), `"at_the_machine":true`); got != local {
			t.Errorf("account %d: %s, want at the machine %v", uid, out, local)
		}
	}
}

// TestOwnerOf reads the kernel's table (the form is that of proc_pid_net(5)).
func TestOwnerOf(t *testing.T) {
	const table = "  sl  local_address rem_address   st tx_queue rx_queue tr tm->when retrnsmt   uid  timeout inode\n" +
		"   0: 0100007F:20E4 0100007F:C350 01 00000000:00000000 00:00000000 00000000   995        0 1 1 0 20 4 30 10 -1\n" +
		"   1: 0100007F:C350 0100007F:20E4 01 00000000:00000000 00:00000000 00000000    33        0 2 1 0 20 4 30 10 -1\n"
	if uid, ok := ownerOf(strings.NewReader(table), 50000, 8420); !ok || uid != 33 {
		t.Errorf("got %d, %v; want 33", uid, ok)
	}
	for _, bad := range []string{"", "1 2 3", "0: : : 01 0 0 0 x", strings.Repeat("z", 1<<17), "0: 0100007F:C350 0100007F:20E4 01 0 0 0 who"} {
		if uid, ok := ownerOf(strings.NewReader(bad), 50000, 8420); ok {
			t.Errorf("%.20q: account %s", bad, strconv.Itoa(uid))
		}
	}
	if r, _ := http.NewRequest("GET", "http://127.0.0.1/", nil); throughProxy(r) {
		t.Error("without a connection nothing can be told, and no sign is one")
	}
}
