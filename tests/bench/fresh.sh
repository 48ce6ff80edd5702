#!/usr/bin/env bash
# The README's two commands in a new Debian root, as root or as an ordinary user with sudo: how long each takes, how soon
# the demo says its first line and weighs its first animal with nothing in any cache, and how many tests pass.
#
#     tests/bench/fresh.sh bookworm|trixie|sid root|user [WORDS for pytest in place of the README's]
#
# As root; BASE=FOLDER names a bare root to begin with, else mmdebstrap makes the root.  Everything comes from Debian's mirror and the package index, as it would there.
set -euo pipefail
[ "${INSIDE:-}" = yes ] || INSIDE=yes exec unshare --mount --pid --fork --propagation private "$0" "$@"
suite=$1 who=$2
shift 2
sources=$(cd "$(dirname "$0")/../.." && pwd)
work=$(mktemp -d -p "${TMPDIR:-/tmp}")
root=$work/root
trap 'set +e; umount -l "$root/dev/pts" "$root/dev/shm" "$root/dev" "$root/proc" "$root/sys" 2>/dev/null; rm -rf --one-file-system "$work"' EXIT
export DEBIAN_FRONTEND=noninteractive
began=$(date +%s)
timed() { while IFS= read -r line; do printf '%4d s  %s\n' $(($(date +%s) - began)) "$line"; done; }

if [ -n "${BASE:-}" ]; then cp -a "$BASE" "$root" && chroot "$root" apt-get update -qq && chroot "$root" apt-get install -qq -y sudo python3-venv >/dev/null; else
  mmdebstrap --quiet --variant=minbase --aptopt='Acquire::Check-Valid-Until "false"' --include=ca-certificates,sudo,python3-venv "$suite" "$root" "${MIRROR:-http://deb.debian.org/debian}"
fi
mount -t tmpfs -o mode=755 dev "$root/dev"
mkdir -p "$root/dev/pts" "$root/dev/shm"
mount -t devpts -o newinstance,ptmxmode=666,mode=620,gid=5 pts "$root/dev/pts"
mount -t tmpfs -o mode=1777 shm "$root/dev/shm"
ln -s pts/ptmx "$root/dev/ptmx"
ln -s /proc/self/fd "$root/dev/fd"
for device in null:3 zero:5 full:7 random:8 urandom:9; do mknod -m 666 "$root/dev/${device%:*}" c 1 "${device#*:}"; done
mknod -m 666 "$root/dev/tty" c 5 0
mount -t proc proc "$root/proc"
mount -t sysfs -o ro sys "$root/sys"
for file in /etc/pip.conf /etc/ssl/certs/ca-certificates.crt /etc/resolv.conf; do # this machine's way to its registries
  [ -e "$file" ] && cp -L "$file" "$root$file"
done
printf '127.0.0.1 localhost %s\n' "$(hostname)" >"$root/etc/hosts"
printf '#!/bin/sh\nexit 101\n' >"$root/usr/sbin/policy-rc.d" && chmod 755 "$root/usr/sbin/policy-rc.d"
mapfile -t reach < <(env | grep -E '^(PIP_CERT|PIP_DEFAULT_TIMEOUT|SSL_CERT_[A-Z]*|NODE_EXTRA_CA_CERTS|REQUESTS_CA_BUNDLE)=' || true)
in_root() { chroot "$root" /usr/bin/env -i PATH=/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin LANG=C.UTF-8 \
  HOME="$home" USER="$name" "${reach[@]}" "$@"; }
name=root home=/root
in_root useradd --create-home --shell /bin/bash --groups sudo pat
echo 'pat ALL=(ALL) NOPASSWD: ALL' >"$root/etc/sudoers.d/pat"
[ "$who" = root ] || { name=pat home=/home/pat; }
git -c safe.directory='*' clone -q --no-hardlinks "$sources" "$root$home/neckyoke"
in_root chown -R "$name:" "$home/neckyoke"
block() { awk -v want="$1" '/^```sh$/ { n++; on = (n == want); next } /^```$/ { on = 0 } on' "$sources/README.md"; }
as() { in_root setpriv --reuid="$name" --regid="$name" --init-groups bash -euo pipefail -c "cd ~/neckyoke; $1"; }

echo "== $suite, $name, $(in_root python3 --version): the first command"
began=$(date +%s)
as "$(block 1)" 2>&1 | timed
as "rm -rf .venv"
echo "== the second"
began=$(date +%s)
words=$(block 2)
[ $# -eq 0 ] || words="${words%%-m pytest*}-m pytest $*"
as "$words" 2>&1 | timed
