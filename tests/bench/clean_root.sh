#!/usr/bin/env bash
# Follows the README's "Install on a Raspberry Pi" word by word in a new Debian 12 root made by debootstrap (run as root):
# every sh block of that section, as a user with sudo.  The devices are simulated ptys under the names the README uses;
# systemctl is a stand-in that runs the unit's command as a user without rights.  After the installation everything runs
# in a network of its own that reaches nowhere.
set -euo pipefail
[ "${INSIDE:-}" = yes ] || INSIDE=yes exec unshare --mount --propagation private "$0" "$@"
sources=$(cd "$(dirname "$0")/../.." && pwd)
mirror=${1:-http://deb.debian.org/debian}
work=$(mktemp -d)
root=$work/root
began=$SECONDS
say() { printf '\n== %s (%d s)\n' "$1" $((SECONDS - began)); }
trap 'set +e; kill $(jobs -p) 2>/dev/null; [ -f "$root/run/daemon.pid" ] && kill "$(cat "$root/run/daemon.pid")" 2>/dev/null
  sleep 1; umount -l "$work/net" "$root/dev/pts" "$root/dev" "$root/proc" 2>/dev/null; rm -rf --one-file-system "$work"' EXIT

block() { # the Nth sh block of the section
  awk -v want="$1" '/^## /{ inside = /Install on a Raspberry Pi/ } inside && /^```sh$/ { n++; on = (n == want); next }
    /^```$/ { on = 0 } on' "$sources/README.md"
}
offline_block() { # the Nth sh block of `neckyoke help install`
  awk -v want="$1" '/^```sh$/ { n++; on = (n == want); next } /^```$/ { on = 0 } on' "$sources/bridge/reference/pages/install.md"
}
inside() { chroot "$root" /usr/bin/env -i HOME=/root PATH=/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin \
  LANG=C.UTF-8 DEBIAN_FRONTEND=noninteractive "${pip[@]}" "$@"; }
online() { inside runuser -u pat -- env HOME=/home/pat USER=pat bash -euo pipefail -c "cd ~/neckyoke; $1"; }
offline() { nsenter --net="$work/net" -- bash -c "$(declare -p root pip); $(declare -f inside online); online \"\$1\"" - "$1"; }

say "a new root"
debootstrap --variant=minbase --include=ca-certificates,sudo,iproute2 bookworm "$root" "$mirror" >"$work/debootstrap.log" 2>&1 ||
  { tail -5 "$work/debootstrap.log"; exit 1; }
mount -t tmpfs -o mode=755 dev "$root/dev"
mkdir -p "$root/dev/pts" "$root/dev/shm" "$root/dev/serial/by-id"
mount -t devpts -o newinstance,ptmxmode=666,mode=660,gid="$(awk -F: '/^dialout/ { print $3 }' "$root/etc/group")" pts "$root/dev/pts"
ln -s pts/ptmx "$root/dev/ptmx"
for device in null:3 zero:5 full:7 random:8 urandom:9; do mknod -m 666 "$root/dev/${device%:*}" c 1 "${device#*:}"; done
mount -t proc proc "$root/proc"
inside_env() { env | grep '^PIP_' || true; }
mapfile -t pip < <(inside_env)
# this machine's way to the package index, where it has one of its own
for file in /etc/pip.conf /etc/ssl/certs/ca-certificates.crt /etc/resolv.conf; do
  [ -e "$file" ] && cp -L "$file" "$root$file"
done
printf '127.0.0.1 localhost %s\n' "$(hostname)" >"$root/etc/hosts"
inside useradd --create-home --groups sudo pat
inside useradd --system --gid dialout unit
echo 'pat ALL=(ALL) NOPASSWD: ALL' >"$root/etc/sudoers.d/pat"
echo 'Defaults env_keep += "PIP_CERT PIP_DEFAULT_TIMEOUT PIP_DISABLE_PIP_VERSION_CHECK DEBIAN_FRONTEND"' >>"$root/etc/sudoers.d/pat"
printf '#!/bin/sh\nexit 101\n' >"$root/usr/sbin/policy-rc.d" && chmod 755 "$root/usr/sbin/policy-rc.d"
cat >"$root/usr/local/sbin/systemctl" <<'END'
#!/bin/bash
# A stand-in: runs the unit's command with the folders and the user that systemd would make.
unit=/etc/systemd/system/neckyoke.service
stop() { [ -f /run/daemon.pid ] && kill "$(cat /run/daemon.pid)" && while kill -0 "$(cat /run/daemon.pid)" 2>/dev/null; do sleep 0.1; done
  rm -f /run/daemon.pid; rm -rf /run/neckyoke; }
start() {
  install -d -o unit -g dialout -m 755 /run/neckyoke; install -d -o unit -g dialout -m 755 /var/lib/neckyoke
  command=$(sed -n 's/^ExecStart=//p' "$unit")
  STATE_DIRECTORY=/var/lib/neckyoke RUNTIME_DIRECTORY=/run/neckyoke \
    setpriv --reuid=unit --regid=dialout --clear-groups $command >/var/log/neckyoke.log 2>&1 </dev/null &
  echo $! >/run/daemon.pid
  for _ in $(seq 300); do [ -S /run/neckyoke/neckyoke.sock ] && sleep 3 && return; sleep 0.1; done
  cat /var/log/neckyoke.log; exit 1
}
case "$1" in enable | restart) stop; start ;; disable | stop) stop ;; esac; exit 0
END
chmod 755 "$root/usr/local/sbin/systemctl"
mkdir "$root/home/pat/neckyoke"
git -C "$sources" archive HEAD | tar -x -C "$root/home/pat/neckyoke"
inside chown -R pat: /home/pat/neckyoke

say "install"
online "$(block 1)"
touch "$work/net" && unshare --net="$work/net" true
nsenter --net="$work/net" -- chroot "$root" ip link set lo up

say "devices and a broker, offline from here on"
nsenter --net="$work/net" -- chroot "$root" /usr/sbin/mosquitto >"$work/mosquitto.log" 2>&1 &
nsenter --net="$work/net" -- chroot "$root" /opt/neckyoke/bin/python -m neckyoke.simulators larkmoor --animals 500 \
  --folder /dev/serial/by-id >"$work/simulators.log" 2>&1 &
until [ -e "$root/dev/serial/by-id/panel" ] || [ -L "$root/dev/serial/by-id/panel" ]; do sleep 0.2; done
ln -s indicator "$root/dev/serial/by-id/usb-adapter-port0"
ln -s panel "$root/dev/serial/by-id/usb-adapter-port1"

say "configuration"
offline "$(block 2)"
say "first check"
offline "$(block 3)"
say "service"
offline "$(block 4)"
offline 'for _ in $(seq 60); do sudo grep -q neckyoke.weighing /var/lib/neckyoke/events.jsonl && break; sleep 1; done
  sudo grep -m1 neckyoke.weighing /var/lib/neckyoke/events.jsonl
  sudo neckyoke status --troubles --config /etc/neckyoke/neckyoke.toml
  neckyoke tell --config /etc/neckyoke/neckyoke.toml note lame, near hind'
say "upgrade"
online "$(block 6 | grep -v systemctl)"
offline "$(block 6 | grep systemctl)
neckyoke status --config /etc/neckyoke/neckyoke.toml"
say "remove"
offline "$(block 7)"
[ ! -e "$root/opt/neckyoke" ] && [ ! -e "$root/etc/systemd/system/neckyoke.service" ] && [ -e "$root/var/lib/neckyoke/neckyoke.db" ]
say "wheels on a stick, and in again without internet"
online "$(offline_block 1)"
offline "$(offline_block 2)
/opt/neckyoke/bin/neckyoke --version"
say "the README's words hold"
