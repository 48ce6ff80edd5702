"""Where a file with a secret lies: handed over by systemd, or where the configuration says."""

import os
from collections.abc import Mapping
from pathlib import Path


def secret_path(folder: Path, name: str, environ: Mapping[str, str] = os.environ) -> Path:
    """Return the path of a file with a secret, such as a password.

    The unit of `neckyoke service install` has systemd hand such files over under their own names
    (LoadCredential=, systemd.exec(5)), since the daemon's user may not read what only root may.
    """
    given = Path(environ.get("CREDENTIALS_DIRECTORY", "")) / Path(name).name
    return given if "CREDENTIALS_DIRECTORY" in environ and given.exists() else folder / name
