"""The page for the phone in the yard: one glance says whether the animal may go and whether it was recorded.

    hub, journal ──> stream.py ──(server-sent events)──> static/stream.js ──> what is seen
    phone ──(POST /requests)──> guard.py, asking.py ──> ask() ──> the daemon

Needs the `page` extra (starlette, uvicorn); only app.py and what it imports do, so `neckyoke page code` works without.

What the page expects of the daemon is in doors.py.  Unknown keys are let be, missing ones are shown as not known.
"""
