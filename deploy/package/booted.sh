#!/bin/bash
# Runs inside the system that boot.sh or boot-arm64.sh boots, as its root, with
# systemd as process 1. It plays the guide from the package to the first message,
# and then tries the service. PATIENCE multiplies every time limit.
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

# The guide's own commands, copied from the guide. A person's sudo is a few lines here,
# for a bare Debian has none.
guide=/guide
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
	command=$(cat "$guide"/{start,messages}.md | grep -oE '^ {4,7}sudo .*|`sudo [^`]*`' | tr -d '`' | sed 's/^ *//' | grep -F -- "$1" | head -1)
	[ -n "$command" ] || { echo "the guide has no command with: $1"; return 1; }
	echo "$command" >>/typed
	DEBIAN_FRONTEND=noninteractive bash -c "${command/.\/leavend_VERSION_ARCHITECTURE.deb//leavend.deb}"
}
installed() { play './leavend_VERSION'; }
same_guide() { cmp "$guide/start.md" /usr/share/doc/leavend/deploy/guide/start.md; }
opened() { printf '1\nflour and water\n' | play 'web open' | grep -F 'https://'; }
shown() { play 'web show' | grep -F 'https://'; }
closed() { play 'web close'; }
checked() { play 'leavend check' | grep -F 'leavend.toml is sound'; }
stopped() { play 'systemctl stop leavend'; }
started() { play 'systemctl start leavend'; }
# calibrated measures the empty jar, gives no level and an inside of 80 mm, and agrees.
calibrated() { printf '\n\n80\n\nyes\n' | play 'leavend calibrate Pilot' && grep -E '^floor_mm = 180' /etc/leavend/leavend.toml; }
# request METHOD PATH BODY [HEADER] asks the page.
request() {
	exec 3<>/dev/tcp/127.0.0.1/8420
	printf '%s %s HTTP/1.0\r\nHost: localhost\r\nContent-Type: application/json\r\nContent-Length: %d\r\n%b\r\n%s' "$1" "$2" ${#3} "${4:-}" "$3" >&3
	cat <&3
}
# fed signs in and taps "Fed", as the page does.
fed() {
	local cookie
	cookie=$(request POST /api/session '{"password":"flour and water"}' | sed -n 's/^[Ss]et-[Cc]ookie: \([^;]*\).*/\1/p' | head -1)
	request POST /api/vessels/pilot/feeds '{}' "Cookie: $cookie\r\n" | tee /dev/stderr | head -1 | grep -F ' 201 '
}
# recipient writes what the guide's messages say by hand: a file with the address, which a
# person types, and the lines that name it.
recipient() {
	play 'install -m 640' && echo http://127.0.0.1:9099/dough >/etc/leavend/phone-url &&
		sed -n '/^    \[\[notify\]\]/,/^$/{s/^    //p}' "$guide/messages.md" | sed '/^$/,$d' | head -3 >>/etc/leavend/leavend.toml && play 'systemctl restart leavend'
}
told() { play 'leavend notify test' && grep -F '"text"' /received; }
# jar DISTANCE has the trial's recording show a jar so far below the sensor, each second.
jar() {
	{
		echo time,distance_mm,temperature_c,note
		for at in {00..59}:{00..59}; do echo "2026-01-01T00:${at}Z,$1,21,"; done
	} >/etc/leavend/eye.csv
	chmod 644 /etc/leavend/eye.csv
}
# A program of the baker's, which takes a POST of JSON.
perl -MIO::Socket::INET -e '
	$s = IO::Socket::INET->new(LocalAddr => "127.0.0.1", LocalPort => 9099, Listen => 5, ReuseAddr => 1) or die;
	while ($c = $s->accept) {
		my $n = 0;
		while (<$c>) { $n = $1 if /^content-length: (\d+)/i; last if /^\r?\n$/ }
		read($c, my $body, $n);
		open my $f, ">>", "/received"; print $f "$body\n"; close $f;
		print $c "HTTP/1.1 204 No Content\r\nConnection: close\r\n\r\n"; close $c;
	}' &
hook=$!
trap 'kill "$hook"' EXIT

began=$EPOCHREALTIME
holds 120 "step 3 of the guide installs the package" installed
holds 60 "the service came up by itself, and said that it is ready" is ActiveState active
holds 10 "the package holds the guide that is played" same_guide
holds 20 "the page is there to set things up" page
holds 10 "it runs as its user" bash -c '[ "$(ps -o user= -p "$(systemctl show -P MainPID leavend)" 2>/dev/null || stat -c %U /proc/$(systemctl show -P MainPID leavend))" = leavend ]'
holds 10 "systemd rates the unit 2.0 or better" rated
holds 60 "step 5 opens the page to the home network, without a file edited" opened
holds 10 "and shows its address again" shown
holds 10 "leavend says that it works" leavend health
holds 60 "and closes it" closed
holds 60 "and sends it as before" bash -c "sed -i 's/^tls = .*/tls = \"off\"/' /etc/leavend/leavend.toml && systemctl restart leavend"
holds 20 "the page is there again" page

# The set-up form of step 5 needs sensors that are found; here a recording stands for them.
cat >>/etc/leavend/leavend.toml <<'CONF'
[[sensor]]
name = "playback"
chip = "recording"
file = "eye.csv"
loop = true
[[vessel]]
name = "Pilot"
distance = "playback"
temperature = "playback"
CONF
jar 180
holds 60 "step 6 says what will run" checked
holds 60 "step 7 stops the service" stopped
holds 120 "and measures the jar" calibrated
jar 120
holds 30 "and starts it" started
holds 20 "the page shows the jar" page
holds 30 "step 8: the feed is noted" fed
holds 60 "step 9: a recipient is written as the guide says" recipient
holds 60 "and the first message is received" told
printf 'the guide: %d steps, %d different commands typed, %.0f s from the package to the first message\n' \
	"$(grep -cE '^[0-9]+\. \*\*' "$guide/start.md")" "$(sort -u /typed | wc -l)" "$(awk "BEGIN {print $EPOCHREALTIME - $began}")"
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
