package mqtt

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/leavendtest/campaign"
)

// commander is a daemon that tells a plug ON, with a number, twice a second,
// and prints the numbers that the network took.
func commander(address string) {
	c, err := New(withLogin(address, Opts{}))
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	go c.Run(context.Background())
	for n := 0; ; n++ {
		if c.Command("plug/cmd", fmt.Sprintf("ON %d", n)) == nil {
			fmt.Println(n)
		}
		time.Sleep(500 * time.Millisecond)
	}
}

// numbers collects the last number of each line that a program prints, with
// the time at which it came.
type numbers struct {
	mu   sync.Mutex // guards came
	came map[int]time.Time
}

func collect(t *testing.T, cmd *exec.Cmd) *numbers {
	t.Helper()
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	cmd.Stderr = os.Stderr
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { cmd.Process.Kill(); cmd.Wait() })
	n := &numbers{came: map[int]time.Time{}}
	go func() {
		for s := bufio.NewScanner(out); s.Scan(); {
			f := strings.Fields(s.Text())
			if v, err := strconv.Atoi(f[len(f)-1]); err == nil {
				n.mu.Lock()
				n.came[v] = time.Now()
				n.mu.Unlock()
			}
		}
	}()
	return n
}

func (n *numbers) copy() map[int]time.Time {
	n.mu.Lock()
	defer n.mu.Unlock()
	out := make(map[int]time.Time, len(n.came))
	for k, v := range n.came {
		out[k] = v
	}
	return out
}

// TestNetworkCut cuts the cable between the daemon and the broker, in network
// namespaces of its own, for longer than a command may wait in the kernel and
// for less time than the protocol needs to notice. What the kernel took during
// the cut must not come out at its end.
func TestNetworkCut(t *testing.T) {
	ip, err := exec.LookPath("ip")
	if !campaign.Long() || os.Getuid() != 0 || err != nil {
		t.Skip("needs LEAVEND_LONG=1, root and iproute2")
	}
	do := func(args ...string) {
		t.Helper()
		if out, err := exec.Command(ip, args...).CombinedOutput(); err != nil {
			t.Skipf("ip %s: %v: %s", strings.Join(args, " "), err, out)
		}
	}
	here, there := fmt.Sprintf("lvd%d", os.Getpid()), fmt.Sprintf("lvb%d", os.Getpid())
	for _, ns := range []string{here, there} {
		do("netns", "add", ns)
		t.Cleanup(func() { exec.Command(ip, "netns", "del", ns).Run() })
		do("-n", ns, "link", "set", "lo", "up")
	}
	do("-n", here, "link", "add", "cable", "type", "veth", "peer", "name", "cable", "netns", there)
	do("-n", here, "addr", "add", "10.231.77.1/30", "dev", "cable")
	do("-n", there, "addr", "add", "10.231.77.2/30", "dev", "cable")
	do("-n", here, "link", "set", "cable", "up")
	do("-n", there, "link", "set", "cable", "up")

	conf := filepath.Join(t.TempDir(), "mosquitto.conf")
	if err := os.WriteFile(conf, []byte("listener 1883\nallow_anonymous true\nuser root\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	broker := exec.Command(ip, "netns", "exec", there, realPeer(t, "mosquitto", "mosquitto"), "-c", conf)
	if err := broker.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { broker.Process.Kill(); broker.Wait() })
	time.Sleep(time.Second)
	heard := collect(t, exec.Command(ip, "netns", "exec", there, realPeer(t, "mosquitto_sub", "mosquitto-clients"), "-h", "127.0.0.1", "-t", "plug/cmd"))
	daemon := exec.Command(ip, "netns", "exec", here, os.Args[0])
	daemon.Env = append(os.Environ(), "LEAVEND_TEST_COMMANDER=mqtt://10.231.77.2:1883")
	took := collect(t, daemon)
	eventually(t, "commands arrive", func() bool { return len(heard.copy()) > 3 })

	cut := time.Now()
	do("-n", there, "link", "set", "cable", "down")
	time.Sleep(unackedLimit + 4*time.Second)
	do("-n", there, "link", "set", "cable", "up")
	healed := time.Now()
	eventually(t, "commands arrive again", func() bool {
		for _, at := range heard.copy() {
			if at.After(healed.Add(2 * time.Second)) {
				return true
			}
		}
		return false
	})
	swallowed, stale := 0, 0
	came := heard.copy()
	for n, at := range took.copy() {
		// A command of the last second before the cut may be on its way.
		if at.Before(cut) || at.After(healed) {
			continue
		}
		swallowed++
		if got, ok := came[n]; ok && got.After(healed) {
			stale++
		}
	}
	t.Logf("the kernel took %d commands during a cut of %v; %d of them came out after it", swallowed, healed.Sub(cut).Round(time.Second), stale)
	if swallowed == 0 {
		t.Error("the kernel took nothing during the cut, so nothing is shown")
	}
	if stale > 0 {
		t.Errorf("%d stale commands", stale)
	}
}
