"""`neckyoke service`: the systemd unit, made for where neckyoke is installed.

The unit's user is made up by systemd for each run, so nothing that the daemon can reach belongs to anybody else: its
state lies in /var/lib/neckyoke, its socket in /run/neckyoke (bridge/config/model.py), and files with secrets, which
only root may read, are handed over by systemd (LoadCredential=) under their own names (bridge/config/credentials.py).
"""

import argparse
import sys
from collections.abc import Iterator
from pathlib import Path

from neckyoke.bridge.config.model import INSTALLED, USUAL, Config, load_config

UNIT = """\
# Written by: neckyoke service install
[Unit]
Description=neckyoke: weighs animals by any scale indicator and tag reader
# Not network-online.target and not time-sync.target: a shed may have neither, and weighing must not wait for them.
After=network.target bluetooth.service time-set.target
StartLimitIntervalSec=0

[Service]
Type=notify
NotifyAccess=main
ExecStart={program} run --config {config}
# The shell's own: the program of that name is a package's that a small Debian lacks.
ExecReload=/bin/sh -c 'kill -HUP $MAINPID'
Restart=always
RestartSec=1
# A configuration that cannot be used stays so until somebody changes it: neckyoke check says what to change.
RestartPreventExitStatus=2
WatchdogSec=30
TimeoutStopSec=20

{user}
# The group of serial ports; whoever is in it may also ask the daemon things (neckyoke status, watch, tell).
Group=dialout
StateDirectory=neckyoke
RuntimeDirectory=neckyoke
{credentials}UMask=0077
LogRateLimitIntervalSec=60
LogRateLimitBurst=300

ProtectSystem=strict
ProtectHome=yes
PrivateTmp=yes
PrivateMounts=yes
NoNewPrivileges=yes
ProtectKernelTunables=yes
ProtectKernelModules=yes
ProtectKernelLogs=yes
ProtectControlGroups=yes
ProtectHostname=yes
ProtectProc=invisible
LockPersonality=yes
RestrictNamespaces=yes
RestrictRealtime=yes
RestrictSUIDSGID=yes
RemoveIPC=yes
MemoryDenyWriteExecute=yes
CapabilityBoundingSet=
AmbientCapabilities=
SystemCallArchitectures=native
SystemCallFilter=@system-service
SystemCallFilter=~@privileged @resources
# Only read: whether the clock is synchronised.  Last, since each line changes what those before it said.
SystemCallFilter=adjtimex clock_adjtime clock_adjtime64
SystemCallErrorNumber=EPERM
RestrictAddressFamilies=AF_UNIX AF_INET AF_INET6{bluetooth}
# The serial drivers must be loaded before these are looked up: /etc/modules-load.d/neckyoke.conf.
DevicePolicy=closed
DeviceAllow=char-ttyUSB rw
DeviceAllow=char-ttyACM rw
DeviceAllow=char-ttyAMA rw
DeviceAllow=char-ttyS rw
DeviceAllow=char-rfcomm rw
MemoryMax=256M
TasksMax=64

[Install]
WantedBy=multi-user.target
"""

MODULES = """\
# Drivers of USB serial adapters, loaded at boot so that the unit's DeviceAllow= knows them (neckyoke service install).
usbserial
ftdi_sio
cp210x
ch341
pl2303
cdc_acm
rfcomm
"""

DROP_IN = """\
# Written by: neckyoke service install
[Service]
{credentials}{bluetooth}"""

UNIT_PATH = "etc/systemd/system/neckyoke.service"
PACKAGED = "usr/lib/systemd/system/neckyoke.service"
"""Where Debian's package has its unit; then only what a configuration adds to it is written, beside it."""
DROP_IN_PATH = f"{UNIT_PATH}.d/configuration.conf"
MODULES_PATH = "etc/modules-load.d/neckyoke.conf"


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("what", choices=["print", "install", "remove"], help="show, write or take away the files")
    parser.add_argument("--config", "-c", type=Path, default=INSTALLED / USUAL, help="for the unit")
    parser.add_argument("--user", help="run as this user, who exists; else systemd makes one up for each run")
    parser.add_argument("--root", type=Path, default=Path("/"), help="where the files go, for an image or a trial")


def unit(path: Path, config: Config | None = None, user: str | None = None) -> str:
    """Make the unit for this installation, the daemon's configuration at `path`."""
    return UNIT.format(
        program=Path(sys.prefix) / "bin" / "neckyoke",
        config=path.absolute(),
        user=f"User={user}" if user else "DynamicUser=yes",
        credentials=_credentials(config),
        bluetooth=" AF_BLUETOOTH" if _own_bluetooth(config) else "",
    )


def drop_in(config: Config | None) -> str:
    """Return what a configuration adds to the unit of Debian's package; empty when that is nothing."""
    bluetooth = "RestrictAddressFamilies=AF_BLUETOOTH\n" if _own_bluetooth(config) else ""
    added = (_credentials(config), bluetooth)
    return DROP_IN.format(credentials=added[0], bluetooth=added[1]) if any(added) else ""


def _credentials(config: Config | None) -> str:
    secrets = dict.fromkeys(_secrets(config)) if config is not None else {}
    return "".join(f"LoadCredential={secret.name}:{secret}\n" for secret in secrets)


def _own_bluetooth(config: Config | None) -> bool:
    """Return whether a link opens Bluetooth sockets itself; all others go by BlueZ, which hands open ones over."""
    links = config.links.values() if config is not None else ()
    return any(link.address.scheme == "rfcomm" and "channel" in link.address.options for link in links)


def _secrets(config: Config) -> Iterator[Path]:
    for outlet in config.outlets.values():
        for name in (outlet.password_file, outlet.token_file, outlet.key_file):
            if name is not None:
                yield config.path(name)


def run(args: argparse.Namespace) -> int:
    """Show, write or take away the unit and the list of drivers."""
    there = args.config.exists()
    config = load_config(args.config) if there and args.what != "remove" else None
    files = {args.root / UNIT_PATH: unit(args.config, config, args.user), args.root / MODULES_PATH: MODULES}
    if (args.root / PACKAGED).exists():
        files = {args.root / DROP_IN_PATH: drop_in(config)}
    try:
        if args.what == "print":
            print(unit(args.config, config, args.user), end="")
        elif args.what == "install":
            _install(files)
            first = "" if there else f"write {args.config}, then "
            print(f"Now: {first}sudo systemctl daemon-reload && sudo systemctl enable --now neckyoke")
        else:
            for path in files:
                path.unlink(missing_ok=True)
                print(f"removed {path}")
            print("Now: sudo systemctl stop neckyoke; sudo systemctl daemon-reload")
            print("What was weighed stays in /var/lib/neckyoke until you delete it.")
    except PermissionError as error:
        print(f"{error.filename}: may not be written by this user; run it with sudo", file=sys.stderr)
        return 1
    return 0


def _install(files: dict[Path, str]) -> None:
    for path, text in files.items():
        if not text:
            path.unlink(missing_ok=True)
            print(f"{path}: not needed")
            continue
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
        print(f"wrote {path}")
