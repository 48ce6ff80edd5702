"""A small capture: as text, as records, and how to put these to a writer."""

from datetime import UTC, datetime

from neckyoke.bridge.capture.format import Asked, Bytes, LinkChange, Record
from neckyoke.bridge.capture.write import CaptureWriter

STARTED = datetime(2026, 11, 24, 2, 11, tzinfo=UTC)
EXAMPLE = """\
{"capture":1,"started":"2026-11-24T02:11:00.000Z","site":"larkmoor"}
{"t":0.104211,"link":"indicator","data":"ST,GS,+00000.0kg\\r\\n"}
{"t":0.310002,"link":"panel","data":"999 000000112233\\r\\n"}
{"t":9.000000,"link":"panel","state":"lost"}
{"t":9.500000,"request":{"kind":"note","station":"crush","text":"lame, near hind"}}
"""
RECORDS: list[Record] = [
    Bytes(0.104211, "indicator", b"ST,GS,+00000.0kg\r\n"),
    Bytes(0.310002, "panel", b"999 000000112233\r\n"),
    LinkChange(9.0, "panel", "lost"),
    Asked(9.5, {"kind": "note", "station": "crush", "text": "lame, near hind"}),
]


def put(writer: CaptureWriter, records: list[Record]) -> None:
    for record in records:
        match record:
            case Bytes(t, link, data):
                writer.data(t, link, data)
            case LinkChange(t, link, state):
                writer.link(t, link, state)
            case Asked(t, request):
                writer.request(t, request)
