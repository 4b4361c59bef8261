package config

import (
	"io/fs"
	"os"
)

// account is an account of the board that a file is read as.
type account struct{ uid, gid int }

// writerOf returns the account, other than root's, that may write a config; false
// where only root may. Who may write it chooses which files are taken for secrets,
// and root's commands must not read others for it: a broker would be sent them.
func writerOf(info fs.FileInfo) (account, bool) {
	uid, gid, ok := ownersOf(info)
	switch {
	case !ok, os.Geteuid() != 0:
		return account{}, false
	case uid != 0:
		return account{uid, gid}, true
	case gid != 0 && info.Mode().Perm()&0o020 != 0:
		return account{serviceUID(), gid}, true
	}
	return account{}, false
}

// readAs has every secret read as an account.
func (c *Config) readAs(a account) {
	all := []*Secret{&c.MQTT.Password, &c.Mat.Plug.Password}
	for i := range c.Notify {
		all = append(all, &c.Notify[i].URL, &c.Notify[i].Key)
	}
	for _, s := range all {
		if s.file != "" {
			s.as = &a
		}
	}
}
