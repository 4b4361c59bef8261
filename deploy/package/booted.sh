#!/bin/bash
# Runs inside the system that boot.sh or boot-arm64.sh boots, as its root, with
# systemd as process 1. PATIENCE multiplies every time limit.
set -euo pipefail

passed=0
# holds SECONDS WHAT COMMAND... waits for the command to succeed.
holds() {
	local most=$(($1 * ${PATIENCE:-1})) what=$2 began=$EPOCHREALTIME
	shift 2
	for ((SECONDS = 0; SECONDS <= most; )); do
		if "$@" >/said 2>&1; then
			printf 'ok    %s (%.1f s)\n' "$what" "$(awk "BEGIN {print $EPOCHREALTIME - $began}")"
			passed=$((passed + 1))
			return
		fi
		sleep 0.1
	done
	printf 'FAIL  %s\n' "$what"
	cat /said
	systemctl --no-pager status leavend || true
	journalctl --no-pager -u leavend | tail -30
	exit 1
}
is() { [ "$(systemctl show -P "$1" leavend)" = "$2" ] || { systemctl show -p "$1" leavend; return 1; }; }
pid() { systemctl show -P MainPID leavend; }
another_pid() { is ActiveState active && [ "$(pid)" != "$1" ]; }
page() {
	exec 3<>/dev/tcp/127.0.0.1/8420
	printf 'GET / HTTP/1.0\r\nHost: localhost\r\n\r\n' >&3
	grep -i '<title>leavend' <&3
}
# mats tells of the last run of `leavend mat off` after the daemon. The log
# would not do: a crash that says much is cut short there.
mats() { systemctl show -P ExecStopPost leavend; }
more_mats() { [ "$(mats)" != "$1" ] && mats | grep 'status=0'; }
rated() { systemd-analyze security --no-pager leavend.service | awk '/Overall exposure/ {print; exit !($(NF-2) <= 2.0)}'; }
apt() { DEBIAN_FRONTEND=noninteractive apt-get -qq -y --no-install-recommends "$@"; }

# The guide's own commands, copied from the guide that the package holds. A
# person's sudo is a few lines here, for a bare Debian has none.
guide=/usr/share/doc/leavend/deploy/guide/start.md
cat >/usr/local/bin/sudo <<'SUDO'
#!/bin/sh
[ "$1" = -u ] && { user=$2; shift 2; exec setpriv --reuid "$user" --regid "$user" --init-groups "$@"; }
exec "$@"
SUDO
chmod 755 /usr/local/bin/sudo
# play WORDS runs the guide's command that holds them; what a person types comes
# by standard input.
play() {
	local command
	command=$(grep -oE '^ {7}sudo .*|`sudo [^`]*`' "$guide" | tr -d '`' | sed 's/^ *//' | grep -F -- "$1" | head -1)
	[ -n "$command" ] || { echo "the guide has no command with: $1"; return 1; }
	bash -c "$command"
}
opened() { printf '1\nflour and water\n' | play 'web open' | grep -F 'https://'; }
shown() { play 'web show' | grep -F 'https://'; }
closed() { play 'web close'; }
checked() { play 'leavend check' | grep -F 'leavend.toml is sound'; }

holds 60 "the service came up with the system, and said that it is ready" is ActiveState active
holds 20 "the page is there to set things up" page
holds 10 "it runs as its user" bash -c '[ "$(ps -o user= -p "$(systemctl show -P MainPID leavend)" 2>/dev/null || stat -c %U /proc/$(systemctl show -P MainPID leavend))" = leavend ]'
holds 10 "systemd rates the unit 2.0 or better" rated
holds 60 "step 5 of the guide opens the page to the home network, without a file edited" opened
holds 10 "and shows its address again" shown
holds 10 "leavend says that it works" leavend health
holds 60 "and closes it" closed
holds 60 "and sends it as before" bash -c "sed -i 's/^tls = .*/tls = \"off\"/' /etc/leavend/leavend.toml && systemctl restart leavend"
holds 20 "the page is there again" page
holds 60 "step 6 of the guide says what will run" checked

cat >>/etc/leavend/leavend.toml <<'CONF'
[[sensor]]
name = "playback"
chip = "recording"
file = "eye.csv"
loop = true
[[vessel]]
name = "Bramble"
distance = "playback"
temperature = "playback"
CONF
printf 'time,distance_mm,temperature_c,note\n2026-01-01T00:00:00Z,120,21,\n2026-01-01T00:00:10Z,120,21,\n' >/etc/leavend/eye.csv
chmod 644 /etc/leavend/eye.csv
holds 30 "it restarts with a jar" systemctl restart leavend
holds 20 "the history is its own" bash -c '[ "$(stat -c "%U %a" /var/lib/leavend)" = "leavend 750" ] && test -s /var/lib/leavend/leavend.db'

was=$(pid) before=$(mats)
kill -KILL "$was"
holds 20 "after SIGKILL 'leavend mat off' ran" more_mats "$before"
holds 30 "and the daemon is back" another_pid "$was"

# A crash of a Go program looks like exit 2, which is a mistake in the
# configuration, unless it is told to end by the signal.
was=$(pid) before=$(mats)
kill -ABRT "$was"
holds 30 "after a crash 'leavend mat off' ran" more_mats "$before"
holds 30 "and the daemon is back" another_pid "$was"

was=$(pid) before=$(mats)
kill -STOP "$was"
holds 90 "a hung daemon is ended by the watchdog, and 'leavend mat off' ran" more_mats "$before"
holds 30 "and the daemon is back" another_pid "$was"

was=$(pid)
apt install --reinstall /leavend.deb >/apt.log 2>&1 || { cat /apt.log; exit 1; }
holds 30 "an upgrade restarts it" another_pid "$was"
holds 30 "a support file is made" leavend support /help.zip

cp -p /etc/leavend/leavend.toml /good.toml
echo 'nosuchkey = 1' >>/etc/leavend/leavend.toml
systemctl restart leavend || true
holds 20 "a mistake in the configuration ends it for good" is ActiveState failed
holds 10 "with exit 2, which is not tried again" is ExecMainStatus 2
cp -p /good.toml /etc/leavend/leavend.toml
holds 30 "repaired, it starts" systemctl restart leavend

apt remove leavend >/apt.log 2>&1 || { cat /apt.log; exit 1; }
holds 20 "removing it stops it" bash -c '! pgrep -x leavend && ! ls -d /proc/[0-9]*/exe -l 2>/dev/null | grep bin/leavend'

printf '\n%d passed, 0 failed\n' "$passed"
