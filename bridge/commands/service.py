"""`neckyoke service`: the systemd unit, made for where neckyoke is installed."""

import argparse
import sys
from pathlib import Path

UNIT = """\
# Written by: neckyoke service install
[Unit]
Description=neckyoke: weighs animals by any scale indicator and tag reader
Documentation=man:systemd.service(5)
# Not network-online.target and not time-sync.target: a shed may have neither, and weighing must not wait for them.
After=network.target bluetooth.service time-set.target
StartLimitIntervalSec=0

[Service]
Type=notify
NotifyAccess=main
ExecStart={program} run --config {config}
Restart=always
RestartSec=2
WatchdogSec=30
TimeoutStopSec=20

DynamicUser=yes
SupplementaryGroups=dialout
StateDirectory=neckyoke
{credential}UMask=0077

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
# adjtimex is only read: whether the clock is synchronised.  It is not in @system-service.
SystemCallFilter=@system-service adjtimex clock_adjtime clock_adjtime64
SystemCallFilter=~@privileged @resources
RestrictAddressFamilies=AF_UNIX AF_INET AF_INET6 AF_BLUETOOTH
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

UNIT_PATH = "etc/systemd/system/neckyoke.service"
MODULES_PATH = "etc/modules-load.d/neckyoke.conf"


def arguments(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("what", choices=["print", "install", "remove"], help="show, write or take away the files")
    parser.add_argument("--config", "-c", type=Path, default=Path("/etc/neckyoke/neckyoke.toml"), help="for the unit")
    parser.add_argument("--password", type=Path, help="a file with the broker's password, handed over as a credential")
    parser.add_argument("--root", type=Path, default=Path("/"), help="where the files go, for an image or a trial")


def unit(config: Path, password: Path | None = None) -> str:
    """Make the unit for this installation."""
    program = Path(sys.prefix) / "bin" / "neckyoke"
    credential = f"LoadCredential=broker-password:{password.absolute()}\n" if password else ""
    return UNIT.format(program=program, config=config.absolute(), credential=credential)


def run(args: argparse.Namespace) -> int:
    """Show, write or take away the unit and the list of drivers."""
    files = {args.root / UNIT_PATH: unit(args.config, args.password), args.root / MODULES_PATH: MODULES}
    if args.what == "print":
        print(files[args.root / UNIT_PATH], end="")
        return 0
    try:
        for path, text in files.items():
            if args.what == "install":
                path.parent.mkdir(parents=True, exist_ok=True)
                path.write_text(text, encoding="utf-8")
                print(f"wrote {path}")
            else:
                path.unlink(missing_ok=True)
                print(f"removed {path}")
    except PermissionError as error:
        print(f"{error.filename}: may not be written by this user; run it with sudo", file=sys.stderr)
        return 1
    if args.what == "install":
        print("Now: sudo systemctl daemon-reload && sudo systemctl enable --now neckyoke")
    else:
        print("Now: sudo systemctl disable --now neckyoke; sudo systemctl daemon-reload")
    return 0
