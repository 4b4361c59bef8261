package store

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
)

// TestMain runs this binary as the victim of TestKill, or for a day of normal
// running, when it is asked to.
func TestMain(m *testing.M) {
	if path := os.Getenv("STORE_VICTIM"); path != "" {
		if err := victim(path); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	if dir := os.Getenv("STORE_DAY"); dir != "" {
		if err := day(dir); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	if path := os.Getenv("STORE_CUT"); path != "" {
		if err := backUpCut(path); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// kills is how often TestKill kills: the full campaign is STORE_KILLS=200.
func kills() int {
	if n, err := strconv.Atoi(os.Getenv("STORE_KILLS")); err == nil {
		return n
	}
	return 10
}

// TestKill kills a writing process at a random moment, again and again on the
// same file. After each kill the file must be sound without any mending, each
// acknowledged feed must be there, and the rollups must agree with the
// readings.
func TestKill(t *testing.T) {
	path := filepath.Join(t.TempDir(), "leavend.db")
	acknowledged := map[int64]bool{}
	rng := rand.New(rand.NewPCG(1, 2))
	for i := range kills() {
		for _, id := range killOne(t, path, rng) {
			acknowledged[id] = true
		}
		s := reopen(t, path, SystemClock())
		feeds, err := s.Journal.Feeds(t.Context(), Query{})
		if err != nil {
			t.Fatal(err)
		}
		there := map[int64]bool{}
		for _, f := range feeds {
			there[f.ID] = f.FlourG() == float64(f.KeptG*5)
		}
		for id := range acknowledged {
			if !there[id] {
				t.Fatalf("kill %d: feed %d was acknowledged and is not there, or not whole", i, id)
			}
		}
		all := readings(t, s, "Bramble", time.UnixMilli(0))
		if len(all) > 0 {
			from := all[0].At.Truncate(time.Minute)
			checkWindow(t, s, "Bramble", all, from, from.AddDate(0, 0, 30), 2000)
			checkWindow(t, s, "Bramble", all, from, from.AddDate(1, 0, 0), 2000)
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	}
	if len(acknowledged) == 0 {
		t.Fatal("no feed was ever acknowledged; the test shows nothing")
	}
	t.Logf("%d kills, %d acknowledged feeds, none lost", kills(), len(acknowledged))
}

// killOne starts a victim, lets it write for a while, kills it, and returns
// the feeds it had acknowledged.
func killOne(t *testing.T, path string, rng *rand.Rand) []int64 {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), "STORE_VICTIM="+path)
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	lines := bufio.NewReader(out)
	if line, err := lines.ReadString('\n'); line != "ready\n" {
		t.Fatalf("the victim says %q, %v", line, err)
	}
	var said strings.Builder
	for range rng.IntN(6) { // not a time: a slow machine would acknowledge nothing
		line, err := lines.ReadString('\n')
		if err != nil {
			t.Fatalf("the victim ended by itself after %q: %v", said.String(), err)
		}
		said.WriteString(line)
	}
	time.Sleep(time.Duration(rng.IntN(8000)) * time.Microsecond)
	if err := cmd.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	rest, _ := io.ReadAll(lines)
	said.Write(rest)
	cmd.Wait()
	var ids []int64
	for line := range strings.Lines(said.String()) {
		// A line that the kill cut off was not yet an acknowledgement.
		if id, err := strconv.ParseInt(strings.TrimSuffix(line, "\n"), 10, 64); err == nil && strings.HasSuffix(line, "\n") {
			ids = append(ids, id)
		}
	}
	return ids
}

// victim writes readings and feeds as fast as it can until it is killed, and
// says on its standard output which feeds were acknowledged.
func victim(path string) error {
	ctx := context.Background()
	s, report, err := Open(ctx, path, Opts{})
	if err != nil || !report.OK() {
		return fmt.Errorf("%v %v", report, err)
	}
	fmt.Println("ready")
	for i := 0; ; i++ {
		for range 50 {
			s.Readings.Add(Reading{"Bramble", Distance, time.Now(), 100 + float64(i%400)/10})
			s.Readings.Add(Reading{"Bramble", Warmth, time.Now(), 24 + float64(i%40)/16})
		}
		if err := s.Readings.Flush(ctx); err != nil {
			return err
		}
		f, err := s.Journal.AddFeed(ctx, Feed{Vessel: "Bramble", At: time.Now(), KeptG: float64(i), Flours: []Flour{{"rye", float64(i * 5)}}})
		if err != nil {
			return err
		}
		fmt.Println(f.ID)
		if i%7 == 3 {
			if err := s.States.SetState(ctx, "mat", map[string]int{"switches": i}); err != nil {
				return err
			}
		}
	}
}

// day runs a day of four jars through a store in dir, commit for commit as the
// daemon does, with two feeds and ten events, and says what the disk was asked
// for. It is not a test but a measurement:
//
//	go test -c -o store.test ./cmd/leavend/internal/store
//	STORE_DAY=$(mktemp -d) strace -f -c -e trace=fsync,fdatasync,pwrite64 ./store.test
func day(dir string) error {
	ctx := context.Background()
	w := newHandClock()
	s, _, err := Open(ctx, filepath.Join(dir, "leavend.db"), Opts{Clock: w})
	if err != nil {
		return err
	}
	before := written()
	for minute := range 24 * 60 {
		for range 6 {
			for _, vessel := range []string{"Bramble", "Pilot", "Third", "Fourth"} {
				for i, c := range []Channel{Distance, Warmth, MatTemp, MatOn} {
					s.Readings.Add(Reading{vessel, c, w.Now(), float64(minute*(i+3)%97) / 16})
				}
			}
			w.pass(10 * time.Second)
		}
		if minute%720 == 0 {
			if _, err := s.Journal.AddFeed(ctx, Feed{Vessel: "Bramble", At: w.Now()}); err != nil {
				return err
			}
		}
		if minute%144 == 0 {
			if _, err := s.Journal.AddEvent(ctx, Event{At: w.Now(), Kind: "peak"}); err != nil {
				return err
			}
		}
		if err := s.Readings.Flush(ctx); err != nil {
			return err
		}
	}
	fmt.Printf("a day of four jars: %.1f MB handed to the disk\n", float64(written()-before)/1e6)
	return s.Close()
}

// written is how many bytes this process wrote to files, by the kernel's count.
func written() int64 {
	text, _ := os.ReadFile("/proc/self/io")
	for line := range strings.Lines(string(text)) {
		if v, ok := strings.CutPrefix(line, "wchar: "); ok {
			n, _ := strconv.ParseInt(strings.TrimSpace(v), 10, 64)
			return n
		}
	}
	return 0
}
