package deploy_test

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"
)

// TestFootprint measures what the daemon asks of a board: four jars at 10 s
// with page, history, metrics and broker, for some minutes.
//
//	LEAVEND_FOOTPRINT=3m go test -run TestFootprint -v ./deploy
//
// Only the size can fail it; the rest depends on what else the machine does,
// and is printed for DEVELOPERS.md. The daemon runs with what the unit sets.
func TestFootprint(t *testing.T) {
	idle, err := time.ParseDuration(os.Getenv("LEAVEND_FOOTPRINT"))
	if err != nil {
		t.Skip("set LEAVEND_FOOTPRINT to how long it should run, such as 3m")
	}
	dir := t.TempDir()
	binary := filepath.Join(dir, "leavend")
	if out, err := exec.Command("package/program.sh", binary).CombinedOutput(); err != nil {
		t.Fatalf("program.sh: %v\n%s", err, out)
	}
	info, err := os.Stat(binary)
	if err != nil {
		t.Fatal(err)
	}
	if info.Size() > 25e6 {
		t.Errorf("the program has %.1f MB, want at most 25", float64(info.Size())/1e6)
	}

	// Started and stopped a few times first: a history that is there already
	// is the usual start.
	var starts []string
	for range 5 {
		d := startMeasured(t, binary, dir)
		wall, cpu := d.firstReading(t)
		starts = append(starts, fmt.Sprintf("%d ms (%d ms of processor)", wall.Milliseconds(), cpu.Milliseconds()))
		d.stop(t)
	}
	d := startMeasured(t, binary, dir)
	d.firstReading(t)
	time.Sleep(20 * time.Second)
	before, began := d.cpu(t), time.Now()
	time.Sleep(idle)
	share := float64(d.cpu(t)-before) / float64(time.Since(began)) * 100
	rss, peak := d.memory(t, "VmRSS:"), d.memory(t, "VmHWM:")
	files, _ := os.ReadDir(fmt.Sprintf("/proc/%d/fd", d.pid()))
	threads, _ := os.ReadDir(fmt.Sprintf("/proc/%d/task", d.pid()))
	d.stop(t)
	t.Logf("%s, %s/%s, %s, %d cores, load average %s\n"+
		"| what | measured | wanted |\n|---|---|---|\n"+
		"| program, stripped | %.1f MB | 25 MB |\n"+
		"| resident memory after %s, at most | %.1f MiB, %.1f MiB | 45 MiB |\n"+
		"| start to first reading | %s | 500 ms |\n"+
		"| processor share, idle, of one core | %.2f %% | 0.5 %% |\n"+
		"| open files, threads | %d, %d | |\n",
		cpuModel(), runtime.GOOS, runtime.GOARCH, runtime.Version(), runtime.NumCPU(), load(),
		float64(info.Size())/1e6, idle+20*time.Second, rss, peak, strings.Join(starts, ", "), share, len(files), len(threads))
}

// measured is a daemon that is looked at from outside.
type measured struct {
	cmd     *exec.Cmd
	began   time.Time
	metrics string
}

// startMeasured runs the daemon with four jars.
func startMeasured(t *testing.T, binary, dir string) *measured {
	t.Helper()
	const recording = "time,distance_mm,temperature_c,note\n2026-01-01T00:00:00Z,120.0,21.0,\n2026-01-01T00:00:10Z,119.9,21.0,\n"
	port := free(t)
	conf := fmt.Sprintf("data_dir = %q\n[mqtt]\nlisten = %q\n[web]\nlisten = %q\n[metrics]\nlisten = %q\n",
		dir, free(t), free(t), port)
	for _, name := range []string{"Bramble", "Pilot", "Thistle", "Sorrel"} {
		conf += fmt.Sprintf("[[sensor]]\nname = \"over %s\"\nchip = \"recording\"\nfile = \"eye.csv\"\nloop = true\n"+
			"[[vessel]]\nname = %q\ndistance = \"over %s\"\ntemperature = \"over %s\"\nfloor_mm = 180\n", name, name, name, name)
	}
	for file, text := range map[string]string{"eye.csv": recording, "leavend.toml": conf} {
		if err := os.WriteFile(filepath.Join(dir, file), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	d := &measured{metrics: fmt.Sprintf("http://%s/metrics", port)}
	d.cmd = exec.Command(binary, "run", "-c", filepath.Join(dir, "leavend.toml"))
	d.cmd.Env = append(d.cmd.Env, unit(t, "leavend.service")["Environment"]...)
	d.cmd.Stderr = os.Stderr
	d.began = time.Now()
	if err := d.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = d.cmd.Process.Kill() }) // It has ended already unless the test failed.
	return d
}

func (d *measured) pid() int { return d.cmd.Process.Pid }

// firstReading waits until the daemon tells of a reading, and returns how long
// that took since its start, and how much processor time.
func (d *measured) firstReading(t *testing.T) (wall, cpu time.Duration) {
	t.Helper()
	ctx, stop := context.WithTimeout(t.Context(), time.Minute)
	defer stop()
	for ctx.Err() == nil {
		if answer, err := http.Get(d.metrics); err == nil {
			text, _ := io.ReadAll(answer.Body)
			answer.Body.Close()
			if strings.Contains(string(text), `leavend_distance_meters{sensor="over Bramble"}`) {
				return time.Since(d.began), d.cpu(t)
			}
		}
		time.Sleep(3 * time.Millisecond)
	}
	t.Fatal("no reading came within a minute")
	return 0, 0
}

// cpu is the processor time of all its threads.
func (d *measured) cpu(t *testing.T) time.Duration {
	t.Helper()
	all, err := filepath.Glob(fmt.Sprintf("/proc/%d/task/*/schedstat", d.pid()))
	if err != nil || len(all) == 0 {
		t.Fatal("this kernel does not count processor time")
	}
	var sum time.Duration
	for _, f := range all {
		text, err := os.ReadFile(f)
		if err != nil {
			continue // the thread has ended
		}
		ns, _ := strconv.ParseInt(strings.Fields(string(text))[0], 10, 64)
		sum += time.Duration(ns)
	}
	return sum
}

// memory is one line of the process's status, MiB.
func (d *measured) memory(t *testing.T, key string) float64 {
	t.Helper()
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", d.pid()))
	if err != nil {
		t.Fatal(err)
	}
	_, rest, _ := strings.Cut(string(text), key)
	kib, err := strconv.ParseFloat(strings.Fields(rest)[0], 64)
	if err != nil {
		t.Fatal(err)
	}
	return kib / 1024
}

func (d *measured) stop(t *testing.T) {
	t.Helper()
	_ = d.cmd.Process.Signal(syscall.SIGTERM)
	if err := d.cmd.Wait(); err != nil {
		t.Errorf("the daemon ended badly: %v", err)
	}
}

// cpuModel and load say what was measured on.
func cpuModel() string {
	text, _ := os.ReadFile("/proc/cpuinfo")
	_, rest, _ := strings.Cut(string(text), "model name")
	name, _, _ := strings.Cut(strings.TrimLeft(rest, "\t :"), "\n")
	return name
}

func load() string {
	text, _ := os.ReadFile("/proc/loadavg")
	return strings.Join(strings.Fields(string(text))[:3], " ")
}
