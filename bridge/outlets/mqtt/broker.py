"""Where a broker is and how to get in: from its table, its secrets read where they lie, and what TLS needs."""

import ssl
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit

from pydantic import SecretStr

from neckyoke.bridge.config.credentials import secret_path
from neckyoke.bridge.config.tables.outlet import OutletTable
from neckyoke.bridge.outlets.follow import OutletError
from neckyoke.bridge.outlets.secure import read_secret

PORTS = {"mqtt": 1883, "mqtts": 8883, "ws": 80, "wss": 443}
"""Registered with IANA: mqtt, secure-mqtt, http, https."""


class BrokerError(OutletError):
    """The connection cannot be had, or is gone.

    `too_large`: the broker says that a message was; `hung_up`: it closed the connection and did not say why; `refused`:
    it acknowledged a message as not taken, and may have taken those behind it.
    """

    def __init__(
        self, text: str, *, slow: bool = False, too_large: bool = False, hung_up: bool = False, refused: bool = False
    ) -> None:
        super().__init__(text, slow=slow)
        self.too_large, self.hung_up, self.refused = too_large, hung_up, refused


class TooLargeError(Exception):
    """A message is larger than the broker takes; it was not sent, and the connection is as it was."""


@dataclass(frozen=True, slots=True)
class Broker:
    """Where the broker is and how to get in."""

    host: str
    port: int
    tls: bool = False
    path: str | None = None  # over WebSocket
    version: str = "5"
    client_id: str = ""
    username: str | None = None
    password: SecretStr | None = None
    ca_file: Path | None = None
    certificate_file: Path | None = None
    key_file: Path | None = None
    keepalive_s: int = 15

    def __str__(self) -> str:
        """Name it for a person; there is no password in it."""
        if self.path is not None:
            return f"{'wss' if self.tls else 'ws'}://{self.host}:{self.port}{self.path}"
        return f"{'mqtts' if self.tls else 'mqtt'}://{self.host}:{self.port}"


def broker_of(table: OutletTable, client_id: str, folder: Path) -> Broker:
    """Return where a table's broker is; the password's file is read each time, since it may have been put right."""
    assert table.mqtt is not None
    parts = urlsplit(table.mqtt)
    tls = parts.scheme in {"mqtts", "wss"}

    def path(name: str | None) -> Path | None:
        return None if name is None else folder / name

    return Broker(
        host=parts.hostname or "",
        port=parts.port or PORTS[parts.scheme],
        tls=tls,
        path=(parts.path or "/mqtt") if parts.scheme in {"ws", "wss"} else None,
        version=table.protocol,
        client_id=client_id,
        username=table.username,
        password=read_password(table, folder),
        ca_file=path(table.ca_file),
        certificate_file=path(table.certificate_file),
        key_file=None if table.key_file is None else secret_path(folder, table.key_file),
        keepalive_s=table.keepalive_s,
    )


def read_password(table: OutletTable, folder: Path) -> SecretStr | None:
    """Read the password from its file or the environment.  Raises BrokerError naming the key, never the secret."""
    try:
        return read_secret(table, "password", folder)
    except OutletError as error:
        raise BrokerError(str(error), slow=error.slow) from None


class _TidySocket(ssl.SSLSocket):
    """Closes itself when no TLS comes about: paho forgets it then."""

    def do_handshake(self, block: bool = False) -> None:  # noqa: FBT001, FBT002  # ssl's signature
        """Shake hands."""
        try:
            super().do_handshake(block)
        except BaseException:
            self.close()
            raise


def tls_context(broker: Broker) -> ssl.SSLContext | None:
    """Make what TLS needs; reads files, so not on the loop.  Raises BrokerError naming the file that is at fault."""
    if not broker.tls:
        return None
    key = "ca_file"
    try:
        context = ssl.create_default_context(cafile=broker.ca_file)
        context.sslsocket_class = _TidySocket
        context.minimum_version = ssl.TLSVersion.TLSv1_2
        key = "certificate_file or key_file"
        if broker.certificate_file:
            context.load_cert_chain(broker.certificate_file, broker.key_file)
    except (OSError, ssl.SSLError) as error:
        raise BrokerError(f"{broker}: {key} cannot be used: {error}", slow=True) from error
    return context
