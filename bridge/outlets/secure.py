"""What a connection to a far side rests on: TLS, its faults in words, and secrets read where they lie."""

import os
import ssl
from pathlib import Path

from pydantic import SecretStr

from neckyoke.bridge.config.credentials import secret_path
from neckyoke.bridge.config.tables.outlet import OutletTable
from neckyoke.bridge.outlets.follow import OutletError

UNKNOWN_AUTHORITY = (
    "its certificate is signed by an authority not known here; set ca_file to that authority's certificate"
)
CERTIFICATE_FAULTS: dict[str, str] = {
    "not yet valid": "its certificate is not valid yet: most likely this box's clock is behind; set the clock",
    "has expired": "its certificate has expired (or this box's clock is ahead); renew it there",
    "hostname mismatch": "its certificate is for another name; use that name here, or make one for this name",
    "ip address mismatch": "its certificate is for another address; use the name in it, or make one for this address",
    "self-signed": UNKNOWN_AUTHORITY,
    "unable to get local issuer": UNKNOWN_AUTHORITY,
    "certificate required": "it wants a certificate from us: set certificate_file and key_file",
    "handshake failure": "no TLS could be agreed; it may want certificate_file and key_file",
    "unknown ca": "it does not know the authority that signed our certificate_file",
    "wrong version number": "it does not speak TLS on this port; use its TLS port, or the address without TLS",
    "certificate verify failed": f"{UNKNOWN_AUTHORITY} (or it is out of date)",  # all that libpq says
}


def certificate_fault(said: str) -> str | None:
    """Return what is wrong with TLS and what to do, from what the library said; None when it is something else."""
    lower = said.lower().replace("_", " ")
    return next((text for words, text in CERTIFICATE_FAULTS.items() if words in lower), None)


def client_context(table: OutletTable, folder: Path, where: str) -> ssl.SSLContext:
    """Make what TLS needs; reads files, so not on the loop.  Raises OutletError naming the file that is at fault."""
    key = "ca_file"
    try:
        context = ssl.create_default_context(cafile=None if table.ca_file is None else folder / table.ca_file)
        context.minimum_version = ssl.TLSVersion.TLSv1_2
        key = "certificate_file or key_file"
        if table.certificate_file:
            key_file = None if table.key_file is None else secret_path(folder, table.key_file)
            context.load_cert_chain(folder / table.certificate_file, key_file)
    except (OSError, ssl.SSLError) as error:
        raise OutletError(f"{where}: {key} cannot be used: {error}", slow=True) from error
    return context


def read_secret(table: OutletTable, what: str, folder: Path) -> SecretStr | None:
    """Read `password` or `token` from its file or the environment.  Raises OutletError naming the key, never it."""
    file, variable = getattr(table, f"{what}_file"), getattr(table, f"{what}_env")
    if file is not None:
        path = secret_path(folder, file)
        try:
            return SecretStr(path.read_text(encoding="utf-8").rstrip("\r\n"))
        except (OSError, UnicodeDecodeError) as error:
            raise OutletError(f"{what}_file {path} cannot be read: {error}", slow=True) from None
    if variable is not None:
        if variable not in os.environ:
            raise OutletError(f"{what}_env names {variable}, which is not set", slow=True)
        return SecretStr(os.environ[variable])
    return None
