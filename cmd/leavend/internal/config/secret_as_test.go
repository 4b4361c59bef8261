package config

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"testing"
)

// TestRootReadsSecretsAsTheService lets root load a config that a service may
// write: a file that only root may read is no secret of that config.
func TestRootReadsSecretsAsTheService(t *testing.T) {
	if os.Geteuid() != 0 || runtime.GOOS != "linux" {
		t.Skip("only root can read as another")
	}
	const service = 64123 // an account that does not exist
	for _, tt := range []struct {
		name         string
		uid, gid     int
		mode         os.FileMode // of the config
		owner, group int         // of the secret
		secret       os.FileMode
		folder       os.FileMode // that the secret is in
		readable     bool
	}{
		{"root's config, root's secret", 0, 0, 0o600, 0, 0, 0o600, 0o700, true},
		{"the service's config, root's secret", service, service, 0o600, 0, 0, 0o600, 0o755, false},
		{"the service's config, a secret of root's group", service, service, 0o600, 0, 0, 0o640, 0o755, false},
		{"the service's config, in root's folder", service, service, 0o600, service, service, 0o644, 0o700, false},
		{"the service's config, the service's secret", service, service, 0o600, service, service, 0o600, 0o755, true},
		{"a config of its group, root's secret", 0, service, 0o660, 0, 0, 0o600, 0o755, false},
		{"a config of its group, a secret of its group", 0, service, 0o660, 0, service, 0o640, 0o755, true},
		{"a config that its group may only read", 0, service, 0o640, 0, 0, 0o600, 0o700, true},
	} {
		t.Run(tt.name, func(t *testing.T) {
			dir := outside(t)
			folder := filepath.Join(dir, "secrets")
			file, secret := filepath.Join(dir, "leavend.toml"), filepath.Join(folder, "password")
			for _, err := range []error{
				os.Mkdir(folder, 0o700), os.WriteFile(secret, []byte("crumb\n"), 0o600),
				os.WriteFile(file, []byte("[mqtt]\nuser = \"baker\"\npassword_file = \""+secret+"\"\n"), 0o600),
				os.Chown(secret, tt.owner, tt.group), os.Chmod(secret, tt.secret),
				os.Chown(file, tt.uid, tt.gid), os.Chmod(file, tt.mode), os.Chmod(folder, tt.folder),
			} {
				if err != nil {
					t.Fatal(err)
				}
			}
			c, err := Load(file)
			if err != nil {
				t.Fatal(err)
			}
			got, err := c.MQTT.Password.Reveal()
			if tt.readable && (err != nil || got != "crumb") || !tt.readable && !errors.Is(err, fs.ErrPermission) {
				t.Errorf("read %q, %v; want that it can be read: %v", got, err, tt.readable)
			}
			if _, err := os.ReadFile(secret); err != nil {
				t.Errorf("root itself cannot read any more: %v", err)
			}
		})
	}
}

// outside is a folder that every account may enter.
func outside(t *testing.T) string {
	t.Helper()
	dir, err := os.MkdirTemp("", "leavend-secret-")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	if err := os.Chmod(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	return dir
}
