package cli

import (
	"fmt"
	"net/http"

	"github.com/spf13/cobra"

	"leavend/cmd/leavend/internal/daemon"
	"leavend/cmd/leavend/internal/text"
)

func newHealthCommand() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "health",
		Short: "Ask the running daemon whether it works",
		Long: `Health asks the daemon whether it works, and prints what is wrong. It ends with 1
where no daemon answers within five seconds, as a container's health check wants
it. A silent sensor, or a mat that is off for safety, is printed and is no failure:
starting the daemon again would not help.`,
		Args: takes(0, 0),
	}
	file := addConfigFlag(cmd)
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		var h daemon.Health
		socket, _, err := findDaemon(cmd.Context(), *file)
		if err == nil {
			err = askDaemon(cmd.Context(), socket, http.MethodGet, daemon.HealthPath, hungAfter, &h)
		}
		if err != nil {
			return fmt.Errorf("health: %w", err)
		}
		reader := terminal(*file)
		for _, say := range append([]text.Message{text.Say("cli.health.works", text.Count("n", h.Vessels))}, h.Alarms...) {
			fmt.Fprintln(cmd.OutOrStdout(), say.In(reader))
		}
		return nil
	}
	return cmd
}
