"""The one file of a backup: a zip with a list of contents in front, every part with its SHA-256.

    backup.json         what it is, of which site, when it was made, and the digest of each part
    journal.db          the journal, whole
    configuration/…     the configuration, and the tables and sheets beside it
    sheets/…            those that people gave the box, which an open job stands on
    secrets/…           only when asked for: passwords, keys, the page's code

It is written under another name and renamed when it has been read back, so that a backup that is there is whole.
"""

import hashlib
import json
import os
import struct
import tempfile
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path, PurePosixPath
from typing import Any

from neckyoke.bridge.config.model import Config
from neckyoke.bridge.events import spell_time
from neckyoke.bridge.job.find import KEPT
from neckyoke.bridge.moving.copy import Contents, Progress, copy

FORMAT = 1
LIST, JOURNAL = "backup.json", "journal.db"
CHUNK = 1 << 20
BESIDE = (".toml", ".csv", ".xlsx")
"""What a person keeps beside a configuration: sheets, and tables of animals."""

BROKEN = (zipfile.BadZipFile, zlib.error, EOFError, RuntimeError, struct.error, KeyError, ValueError, OSError)
"""What zipfile raises on a damaged file: RuntimeError where it says encrypted, OSError where a place is before all."""


class BackupError(Exception):
    """The file cannot be made or used; the text says why and what to do."""


@dataclass(frozen=True, slots=True)
class Backup:
    """What is in a backup: its list of contents."""

    path: Path
    site: str
    made: str
    version: str
    configuration: str
    digests: Mapping[str, str]
    events: int
    weighings: int
    last: int

    def parts(self, folder: str) -> Iterator[tuple[str, str]]:
        """Yield (name in the zip, name below the folder) of the parts in one of its folders."""
        for name in self.digests:
            if name.startswith(f"{folder}/"):
                yield name, name.removeprefix(f"{folder}/")


def secrets_of(config: Config) -> Iterator[Path]:
    """Yield the files that only the owner may read."""
    for outlet in config.outlets.values():
        yield from (
            config.path(name) for name in (outlet.password_file, outlet.token_file, outlet.key_file) if name is not None
        )
    if config.page is not None:
        yield config.state_path(config.page.code_file)


def make(
    path: Path,
    config: Config,
    configuration: Path,
    *,
    now: datetime,
    version: str,
    with_secrets: bool = False,
    progress: Progress = lambda _done, _of: None,
) -> Backup:
    """Make a backup while the daemon runs or not.  Raises StoreError, BackupError or OSError saying why not."""
    hidden = {secret.resolve() for secret in secrets_of(config)}
    beside = [one for one in sorted(config.folder.iterdir()) if one.suffix in BESIDE and one.resolve() not in hidden]
    parts = {f"configuration/{one.name}": one for one in beside if one.is_file()}
    parts[f"configuration/{configuration.name}"] = configuration
    kept = config.state_path(KEPT)
    parts |= {f"sheets/{one.relative_to(kept)}": one for one in sorted(kept.rglob("*")) if one.is_file()}
    if with_secrets:
        parts |= {f"secrets{one.resolve()}": one for one in hidden if one.is_file()}
    with tempfile.TemporaryDirectory(dir=path.absolute().parent, prefix=".backup-") as work:
        contents = copy(
            config.state_path(config.journal.path), parts.setdefault(JOURNAL, Path(work) / JOURNAL), progress
        )
        digests = {name: _digest(part) for name, part in parts.items()}
        made = Backup(
            path, config.site, spell_time(now), version, configuration.name, digests, contents.events,
            contents.weighings, contents.last,
        )  # fmt: skip
        unfinished = Path(work) / "backup"
        os.close(os.open(unfinished, os.O_CREAT | os.O_WRONLY, 0o600))
        with zipfile.ZipFile(unfinished, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
            archive.writestr(LIST, json.dumps(_listed(made, contents), indent=2))
            _write(archive, parts, progress)
        check(read(unfinished), progress)
        with unfinished.open("rb") as written:
            os.fsync(written.fileno())
        unfinished.replace(path)
    return made


def _write(archive: zipfile.ZipFile, parts: Mapping[str, Path], progress: Progress) -> None:
    whole, done = sum(part.stat().st_size for part in parts.values()), 0
    for name, part in parts.items():
        with part.open("rb") as source, archive.open(zipfile.ZipInfo.from_file(part, name), "w") as target:
            while chunk := source.read(CHUNK):
                target.write(chunk)
                progress(done := done + len(chunk), whole)


def read(path: Path) -> Backup:
    """Read what a backup holds.  Raises BackupError when it is none, or OSError."""
    try:
        with zipfile.ZipFile(path) as archive:
            listed: dict[str, Any] = json.loads(archive.read(LIST))
            made = Backup(
                path=path,
                site=listed["site"],
                made=listed["made"],
                version=listed["version"],
                configuration=listed["configuration"],
                digests=listed["parts"],
                events=listed["journal"]["events"],
                weighings=listed["journal"]["weighings"],
                last=listed["journal"]["last"],
            )
            names = set(archive.namelist())
    except (FileNotFoundError, PermissionError, IsADirectoryError):
        raise
    except (*BROKEN, TypeError) as error:
        raise BackupError(f"{path} is no backup of neckyoke, or not a whole one ({error})") from None
    if listed.get("neckyoke_backup") != FORMAT:
        raise BackupError(f"{path} was made by another neckyoke ({made.version}); use that one")
    if bad := [name for name in made.digests if name not in names or _leads_away(name)]:
        raise BackupError(f"{path} is not whole: {bad[0]} is missing")
    return made


def unpack(backup: Backup, name: str, target: Path, progress: Progress = lambda _done, _of: None) -> None:
    """Write one part to a new file that only the owner may read.  Raises BackupError when it is not what was put in."""
    with os.fdopen(os.open(target, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600), "wb") as out:
        for chunk in _chunks(backup, name, progress):
            out.write(chunk)
        out.flush()
        os.fsync(out.fileno())


def check(backup: Backup, progress: Progress = lambda _done, _of: None) -> None:
    """Read every part once.  Raises BackupError when one is not what was put in."""
    for name in backup.digests:
        for _ in _chunks(backup, name, progress):
            pass


def _chunks(backup: Backup, name: str, progress: Progress) -> Iterator[bytes]:
    digest, done = hashlib.sha256(), 0
    try:
        with zipfile.ZipFile(backup.path) as archive, archive.open(name) as part:
            whole = archive.getinfo(name).file_size
            while chunk := part.read(CHUNK):
                digest.update(chunk)
                progress(done := done + len(chunk), whole)
                yield chunk
    except BROKEN as error:
        raise BackupError(f"{backup.path} is damaged: {error}") from None
    if digest.hexdigest() != backup.digests[name]:
        raise BackupError(f"{backup.path} is damaged: {name} is not what was put in")


def _leads_away(name: str) -> bool:
    """Return whether a part's name would be written elsewhere than below its folder."""
    return ".." in PurePosixPath(name).parts or name.startswith("/")


def _listed(made: Backup, contents: Contents) -> dict[str, Any]:
    return {
        "neckyoke_backup": FORMAT,
        "site": made.site,
        "made": made.made,
        "version": made.version,
        "configuration": made.configuration,
        "journal": {
            "events": made.events,
            "weighings": made.weighings,
            "last": made.last,
            "positions": dict(contents.positions),
        },
        "parts": dict(made.digests),
    }


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
