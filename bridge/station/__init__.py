"""The pure core: time and readings in, events out.  No I/O, no asyncio, no wall clock of its own."""
