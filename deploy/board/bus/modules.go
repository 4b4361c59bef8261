//go:build linux

package main

import (
	"debug/elf"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"

	"golang.org/x/sys/unix"
)

// wanted are the modules that the machine needs, by their file names.
var wanted = []string{
	"vhci-hcd", "i2c-tiny-usb", "i2c-dev", "i2c-mux-pca954x",
	"vl53l0x-i2c", "sht3x", "sht4x", "bmp280-i2c", "ti-ads1015", "ds2482", "w1_therm",
}

// pack copies the wanted modules below a folder of a kernel, and those that they
// depend on, into another, numbered in the order in which they are to be loaded.
func pack(from, to string) error {
	files := map[string]string{}
	err := filepath.WalkDir(from, func(path string, d fs.DirEntry, err error) error {
		if name, _, ok := strings.Cut(filepath.Base(path), ".ko"); ok && err == nil {
			files[plain(name)] = path
		}
		return err
	})
	if err != nil {
		return err
	}
	p := packer{files: files, to: to}
	for _, name := range wanted {
		if err := p.add(plain(name)); err != nil {
			return err
		}
	}
	return nil
}

// plain is a module's name as others name it.
func plain(name string) string { return strings.ReplaceAll(name, "-", "_") }

// packer copies modules.
type packer struct {
	files map[string]string
	to    string
	done  []string
}

// add copies a module behind those that it depends on. One that is not there is
// built into the kernel, or missing, which the machine will say.
func (p *packer) add(name string) error {
	path, ok := p.files[name]
	if !ok || slices.Contains(p.done, name) {
		return nil
	}
	text, err := uncompressed(path)
	if err != nil {
		return err
	}
	file := filepath.Join(p.to, name+".tmp")
	if err := os.WriteFile(file, text, 0o644); err != nil {
		return err
	}
	needs, err := depends(file)
	if err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	p.done = append(p.done, name)
	for _, other := range needs {
		if err := p.add(plain(other)); err != nil {
			return err
		}
	}
	return os.Rename(file, filepath.Join(p.to, fmt.Sprintf("%02d-%s.ko", len(p.loaded()), name)))
}

// loaded are the modules that have their number.
func (p *packer) loaded() []string {
	have, _ := filepath.Glob(filepath.Join(p.to, "*.ko"))
	return have
}

// uncompressed reads a module, which newer kernels pack.
func uncompressed(path string) ([]byte, error) {
	if strings.HasSuffix(path, ".xz") {
		return exec.Command("xz", "-dc", path).Output()
	}
	return os.ReadFile(path)
}

// depends reads which modules a module needs, as it says of itself.
func depends(path string) ([]string, error) {
	f, err := elf.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	section := f.Section(".modinfo")
	if section == nil {
		return nil, errors.New("it has no section .modinfo")
	}
	text, err := io.ReadAll(section.Open())
	if err != nil {
		return nil, err
	}
	for _, entry := range strings.Split(string(text), "\x00") {
		if list, ok := strings.CutPrefix(entry, "depends="); ok && list != "" {
			return strings.Split(list, ","), nil
		}
	}
	return nil, nil
}

// load loads the modules of a folder in their order.
func load(folder string) error {
	files, err := filepath.Glob(filepath.Join(folder, "*.ko"))
	if err != nil || len(files) == 0 {
		return fmt.Errorf("no modules in %s (%v)", folder, err)
	}
	slices.Sort(files)
	for _, path := range files {
		f, err := os.Open(path)
		if err != nil {
			return err
		}
		err = unix.FinitModule(int(f.Fd()), "", 0)
		f.Close()
		if err != nil && !errors.Is(err, unix.EEXIST) {
			return fmt.Errorf("load %s: %w", filepath.Base(path), err)
		}
	}
	return nil
}
