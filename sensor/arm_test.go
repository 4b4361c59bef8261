package sensor_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// TestRunsOnTheBoards builds the tests of every package below this one for the
// processors of the boards, the oldest Raspberry Pi's included, and runs them
// under qemu's user mode. It takes a minute or two, so it runs only where
// LEAVEND_REAL_PEERS demands the real thing.
func TestRunsOnTheBoards(t *testing.T) {
	if os.Getenv("LEAVEND_REAL_PEERS") == "" {
		t.Skip("set LEAVEND_REAL_PEERS=1 to build for arm and arm64 and run under qemu")
	}
	for arch, qemu := range map[string]string{"arm": "qemu-arm-static", "arm64": "qemu-aarch64-static"} {
		t.Run(arch, func(t *testing.T) {
			emulator, err := exec.LookPath(qemu)
			if err != nil {
				t.Fatalf("%s is missing: apt-get install qemu-user-static", qemu)
			}
			dir := t.TempDir()
			build := exec.CommandContext(t.Context(), "go", "test", "-c", "-o", dir+"/", "./...")
			build.Env = append(os.Environ(), "GOOS=linux", "GOARCH="+arch, "GOARM=6", "CGO_ENABLED=0")
			if out, err := build.CombinedOutput(); err != nil {
				t.Fatalf("build: %v\n%s", err, out)
			}
			folders := testFolders(t)
			tests, err := filepath.Glob(filepath.Join(dir, "*.test"))
			if err != nil || len(tests) < 15 {
				t.Fatalf("%d test programs were built, %v", len(tests), err)
			}
			for _, program := range tests {
				runOn(t, emulator, program, folders)
			}
		})
	}
}

// testFolders gives the folder of each package's source by the last part of
// the package's path, which is the name of its test program.
func testFolders(t *testing.T) map[string]string {
	t.Helper()
	list, err := exec.CommandContext(t.Context(), "go", "list", "-f", "{{.Dir}}", "./...").Output()
	if err != nil {
		t.Fatal(err)
	}
	folders := map[string]string{}
	for _, dir := range strings.Fields(string(list)) {
		folders[filepath.Base(dir)] = dir
	}
	return folders
}

// runOn runs one package's tests in the folder of its source, whose files some
// tests read. The tests of this very package would start themselves again
// without the environment below, and those of the simulation are long and know
// no hardware.
func runOn(t *testing.T, emulator, program string, folders map[string]string) {
	name := strings.TrimSuffix(filepath.Base(program), ".test")
	if name == "sim" {
		return
	}
	t.Run(name, func(t *testing.T) {
		run := exec.CommandContext(t.Context(), emulator, program, "-test.short", "-test.timeout=5m")
		run.Dir = folders[name]
		run.Env = append(os.Environ(), "LEAVEND_REAL_PEERS=", "LEAVEND_BUS_REPLIES=2000")
		if out, err := run.CombinedOutput(); err != nil {
			t.Errorf("%v\n%s", err, out)
		}
	})
}
