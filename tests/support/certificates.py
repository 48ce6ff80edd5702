"""Certificates of an authority of our own, made by the openssl command."""

import subprocess
from pathlib import Path

from tests.support.broker import find

KEY = ("-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes")


class Authority:
    """An authority in a folder: `ca.crt`, and what it signs."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        folder.mkdir(parents=True)
        self.certificate = folder / "ca.crt"
        self._openssl(
            *("req", "-x509", *KEY, "-keyout", "ca.key", "-out", "ca.crt", "-days", "2", "-subj", "/CN=yard authority"),
            *("-addext", "basicConstraints=critical,CA:TRUE", "-addext", "keyUsage=critical,keyCertSign,cRLSign"),
        )

    def _openssl(self, *arguments: str | Path) -> str:
        ran = subprocess.run([find("openssl"), *arguments], cwd=self.folder, check=True, capture_output=True, text=True)
        return ran.stdout + ran.stderr

    def _past(self) -> tuple[str, ...]:
        """Return how a validity that is over is asked for: OpenSSL 3.4 has dates, and takes no negative days."""
        if "-not_after" in self._openssl("x509", "-help"):
            return ("-not_before", "20250101000000Z", "-not_after", "20250102000000Z")
        return ("-days", "-1")

    def sign(self, name: str, names: str = "DNS:localhost,IP:127.0.0.1", *, expired: bool = False) -> tuple[Path, Path]:
        """Make a key and a certificate for it, valid for the names; return the paths of certificate and key."""
        extensions = self.folder / f"{name}.ext"
        extensions.write_text(f"subjectAltName={names}\nextendedKeyUsage=serverAuth,clientAuth\n")
        self._openssl("req", *KEY, "-keyout", f"{name}.key", "-out", f"{name}.csr", "-subj", f"/CN={name}")
        validity: tuple[str, ...] = self._past() if expired else ("-days", "2")
        self._openssl(
            *("x509", "-req", "-in", f"{name}.csr", "-CA", "ca.crt", "-CAkey", "ca.key", "-CAcreateserial"),
            *("-out", f"{name}.crt", "-extfile", extensions),
            *validity,
        )
        return self.folder / f"{name}.crt", self.folder / f"{name}.key"
