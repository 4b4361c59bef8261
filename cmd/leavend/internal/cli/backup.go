package cli

import (
	"context"
	"fmt"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/store/dbfile"
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
	if f.file != "" {
		return dbfile.NewestBackup(filepath.Join(filepath.Dir(f.file), "backups"))
	}
	c, err := loadConfig(*f.config)
	if err != nil {
		return "", err
	}
	return dbfile.NewestBackup(c.Store.BackupDir)
}

// reader opens the store for reading, beside a running daemon or alone.
func (f *storeFlags) reader(ctx context.Context) (*store.Store, error) {
	path, err := f.path()
	if err != nil {
		return nil, err
	}
	s, _, err := store.Open(ctx, path, store.Opts{ReadOnly: true})
	return s, err
}

func newBackupCommand() *cobra.Command {
	var f storeFlags
	c := &cobra.Command{
		Use:   "backup FILE",
		Short: "Copy the whole store to FILE, checked, while the daemon runs",
		Long: `Backup writes a whole copy of the store to FILE, which must not exist yet, and
checks it before it gets that name. The daemon may run; readings of its last
minute may be missing. 'leavend restore FILE' goes back to it. For one each
night on another disk, set store.backup_dir in the config.`,
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
			_, err = fmt.Fprintf(cmd.OutOrStdout(), "%s: %.1f MB, checked\n", args[0], float64(info.Size())/1e6)
			return err
		},
	}
	f.add(c)
	return c
}

func newRestoreCommand() *cobra.Command {
	var f storeFlags
	c := &cobra.Command{
		Use:   "restore [FILE]",
		Short: "Put a backup in the place of the store, while the daemon is stopped",
		Long: `Restore checks FILE, a backup, and puts a copy of it in the place of the store;
without FILE it takes the newest nightly backup. What stands there now is set
aside under another name and not deleted, and owner and rights stay as they are.
While the daemon runs it refuses, and changes nothing.`,
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
				fmt.Fprintf(cmd.OutOrStdout(), "what was there is kept as %s\n", aside)
			}
			_, err = fmt.Fprintf(cmd.OutOrStdout(), "%s is back, from %s\n", path, backup)
			return err
		},
	}
	f.add(c)
	return c
}
