package cli

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/store/dbfile"
	"leavend/cmd/leavend/internal/text"
)

// storeFlags say where the store is: by the config, or directly.
type storeFlags struct {
	config *string
	file   string
}

func (f *storeFlags) add(c *cobra.Command) {
	f.config = addConfigFlag(c)
	c.Flags().StringVar(&f.file, "store", "", "the history's file, whatever the configuration says")
}

// path returns the store's file.
func (f *storeFlags) path() (string, error) {
	if f.file != "" {
		return f.file, nil
	}
	c, err := loadConfig(*f.config)
	if err != nil {
		return "", err
	}
	return c.Store.File, nil
}

// backup returns the backup that is named, or the newest nightly one.
func (f *storeFlags) backup(args []string) (string, error) {
	if len(args) > 0 {
		return args[0], nil
	}
	dir := filepath.Join(filepath.Dir(f.file), "backups")
	if f.file == "" {
		c, err := loadConfig(*f.config)
		if err != nil {
			return "", err
		}
		dir = c.Store.BackupDir
	}
	newest, err := dbfile.NewestBackup(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return "", text.Fail("cli.backup.none", text.Name("dir", dir))
	}
	return newest, err
}

// reader opens the store for reading, beside a running daemon or alone.
func (f *storeFlags) reader(ctx context.Context) (*store.Store, error) {
	path, err := f.path()
	if err != nil {
		return nil, err
	}
	s, _, err := store.Open(ctx, path, store.Opts{ReadOnly: true})
	if errors.Is(err, fs.ErrNotExist) {
		return nil, text.Fail("cli.backup.no_history", text.Name("file", path))
	}
	return s, err
}

func newBackupCommand() *cobra.Command {
	var f storeFlags
	c := &cobra.Command{
		Use:   "backup FILE",
		Short: "Copy the history to FILE and check the copy; the daemon may run",
		Long: `Backup writes a whole copy of the history to FILE, which must not exist yet, and
checks the copy before it gets that name. The daemon may run; readings of its last
minute may be missing. 'leavend restore FILE' goes back to it. For a copy each
night on another disk, set store.backup_dir in the configuration.`,
		Args: takes(1, 1),
		RunE: func(cmd *cobra.Command, args []string) error {
			s, err := f.reader(cmd.Context())
			if err != nil {
				return err
			}
			defer s.Close()
			if err := s.Copies.Backup(cmd.Context(), args[0]); err != nil {
				return err
			}
			info, err := os.Stat(args[0])
			if err != nil {
				return err
			}
			return say(cmd, "cli.backup.written", text.Name("file", args[0]), text.Size("size", uint64(info.Size())))
		},
	}
	f.add(c)
	return c
}

func newRestoreCommand() *cobra.Command {
	var f storeFlags
	c := &cobra.Command{
		Use:   "restore [FILE]",
		Short: "Go back to a backup, while the daemon is stopped",
		Long: `Restore checks FILE, a backup, and puts a copy of it in the place of the history;
without FILE it takes the newest nightly backup. The present history is kept under
another name, and owner and rights stay as they are. While the daemon runs,
restore refuses and changes nothing.`,
		Args: takes(0, 1),
		RunE: func(cmd *cobra.Command, args []string) error {
			path, err := f.path()
			if err != nil {
				return err
			}
			backup, err := f.backup(args)
			if err != nil {
				return err
			}
			aside, err := store.Restore(cmd.Context(), path, backup)
			if err != nil {
				return err
			}
			if aside != "" {
				_ = say(cmd, "cli.backup.aside", text.Name("file", aside)) // the next line would fail as well
			}
			return say(cmd, "cli.backup.restored", text.Name("file", path), text.Name("backup", backup))
		},
	}
	f.add(c)
	return c
}
