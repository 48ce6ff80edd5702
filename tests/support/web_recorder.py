"""A recorder by HTTP in a process of its own: whatever it accepts it writes down before it says so.

    python -m tests.support.web_recorder PORT FOLDER [CERTIFICATE KEY]

It appends a line an event to FOLDER/taken.jsonl.  FOLDER/answer holds the status that it answers with, when there is
one, FOLDER/token the token that it asks for, and FOLDER/largest the largest body it takes.
"""

import json
import re
import ssl
import sys
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any, ClassVar
from urllib.parse import unquote


class Handler(BaseHTTPRequestHandler):
    """Takes CloudEvents in all three modes of the HTTP binding, and weighings by line protocol."""

    protocol_version = "HTTP/1.1"
    folder: ClassVar[Path]

    def setting(self, name: str) -> str:
        try:
            return (self.folder / name).read_text().strip()
        except FileNotFoundError:
            return ""

    def do_POST(self) -> None:
        body = self.rfile.read(int(self.headers["Content-Length"]))
        token, largest, answer = (self.setting(name) for name in ("token", "largest", "answer"))
        if token and self.headers.get("Authorization") not in {f"Bearer {token}", f"Token {token}"}:
            return self.say(401)
        if largest and len(body) > int(largest):
            return self.say(413)
        if answer:
            return self.say(int(answer))
        with (self.folder / "taken.jsonl").open("a") as out:
            for event in self.events(body):
                out.write(json.dumps(event) + "\n")
        return self.say(204)

    def points(self, body: bytes) -> list[dict[str, Any]]:
        """Read line protocol, as far as a test asks for it."""
        found = [re.findall(rb"[, ](number|revision)=([0-9]+)i", line) for line in body.splitlines()]
        return [{"data": {name.decode(): int(value) for name, value in one}} for one in found]

    def events(self, body: bytes) -> list[dict[str, Any]]:
        kind = self.headers["Content-Type"]
        if kind.startswith("text/plain"):
            return self.points(body)
        if kind.startswith("application/cloudevents-batch+json"):
            return list(json.loads(body))
        if kind.startswith("application/cloudevents+json"):
            return [json.loads(body)]
        attributes = {
            name.lower().removeprefix("ce-"): unquote(value)
            for name, value in self.headers.items()
            if name.lower().startswith("ce-")
        }
        return [{**attributes, "datacontenttype": kind, "data": json.loads(body)}]

    def say(self, status: int) -> None:
        self.send_response(status)
        self.send_header("Content-Length", "0")
        self.end_headers()

    def log_message(self, *_: Any) -> None:
        """Say nothing."""


if __name__ == "__main__":
    Handler.folder = Path(sys.argv[2])
    server = ThreadingHTTPServer(("127.0.0.1", int(sys.argv[1])), Handler)
    if len(sys.argv) > 3:
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.load_cert_chain(*sys.argv[3:])
        server.socket = context.wrap_socket(server.socket, server_side=True)
    server.serve_forever()
