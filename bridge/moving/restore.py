"""A backup laid down on a box: nothing that is there is written over, and nothing is done by halves.

no daemon may run, and no journal may be there (its own lock says so, and the file)
a configuration that is there stays, for the new box's devices have names of their own; without one, the old one is
laid down.  It must be of the same site: ids are made of it
each file is written beside its place, compared, looked through, and then renamed
"""

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from neckyoke.bridge.config.model import Config, load_config
from neckyoke.bridge.job.find import KEPT
from neckyoke.bridge.many import many
from neckyoke.bridge.moving.archive import JOURNAL, Backup, BackupError, check, secrets_of, unpack
from neckyoke.bridge.moving.copy import Progress, look


def restore(backup: Backup, configuration: Path, progress: Progress = lambda _done, _of: None) -> Iterator[str]:
    """Lay a backup down; yield what was done, in words.  Raises BackupError, StoreError, ConfigError or OSError."""
    check(backup, progress)
    folder = configuration.absolute().parent
    folder.mkdir(parents=True, exist_ok=True)
    if not configuration.exists():
        yield _laid(backup, f"configuration/{backup.configuration}", configuration, 0o644)
    else:
        yield f"{configuration} was there and stays"
    config = load_config(configuration)
    if config.site != backup.site:
        raise BackupError(
            f"{configuration} is of site {config.site!r}, the backup of {backup.site!r}: a box goes on as the same site"
        )
    journal = config.state_path(config.journal.path)
    journal.parent.mkdir(parents=True, exist_ok=True)
    with _nobody_writes(journal):
        if journal.exists():
            raise BackupError(f"there is a journal already: {journal}.  Move it away first, with {journal.name}-wal")
        yield from _files(backup, config, folder)
        arrived = journal.with_name(f".{journal.name}.arriving")
        arrived.unlink(missing_ok=True)
        unpack(backup, JOURNAL, arrived, progress)
        found = look(arrived)
        if (found.events, found.last) != (backup.events, backup.last):
            raise BackupError(f"{backup.path} holds {found.events} events, not the {backup.events} of its list")
        _owned_alike(arrived, journal.parent)
        arrived.rename(journal)
    yield f"{many(found.weighings, 'weighing')} in {journal}"
    for secret in secrets_of(config):
        if not os.access(secret, os.F_OK):
            yield f"still missing, since secrets stay where they are unless asked for: {secret}"


def _files(backup: Backup, config: Config, folder: Path) -> Iterator[str]:
    """Lay down what stood beside the configuration, and secrets at their places, where nothing is yet."""
    for name, beside in backup.parts("configuration"):
        if beside != backup.configuration and not (folder / beside).exists():
            yield _laid(backup, name, folder / beside, 0o644)
    kept = config.state_path(KEPT)
    for name, given in backup.parts("sheets"):
        if not (kept / given).exists():
            _made_for_the_daemon((kept / given).parent, config.state_path("."))
            yield _laid(backup, name, kept / given, 0o644)
            _owned_alike(kept / given, config.state_path("."))
    wanted = {secret.resolve() for secret in secrets_of(config)}
    for name, place in backup.parts("secrets"):
        target = Path("/") / place
        if target in wanted and not target.exists():
            target.parent.mkdir(parents=True, exist_ok=True)
            yield _laid(backup, name, target, 0o600)


def _laid(backup: Backup, name: str, target: Path, mode: int) -> str:
    arrived = target.with_name(f".{target.name}.arriving")
    arrived.unlink(missing_ok=True)
    unpack(backup, name, arrived)
    arrived.chmod(mode)
    arrived.rename(target)
    return f"wrote {target}"


def _owned_alike(path: Path, folder: Path) -> None:
    """Give a file to whom the folder belongs to: systemd gives the daemon's to the daemon's user."""
    owner = folder.stat()
    os.chown(path, owner.st_uid, owner.st_gid)


def _made_for_the_daemon(folder: Path, state: Path) -> None:
    if not folder.exists():
        _made_for_the_daemon(folder.parent, state)
        folder.mkdir()
        _owned_alike(folder, state)


@contextmanager
def _nobody_writes(journal: Path) -> Iterator[None]:
    """Hold the journal's lock, as the daemon does.  Raises BackupError while one runs."""
    lock = os.open(f"{journal}.lock", os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o644)
    try:
        _owned_alike(Path(f"{journal}.lock"), journal.parent)
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        yield
    except BlockingIOError:
        raise BackupError("the daemon runs; stop it first: sudo systemctl stop neckyoke") from None
    finally:
        os.close(lock)
