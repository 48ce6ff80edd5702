"""Bytes to readings.  Pure: no I/O, no clock, no logging, no configuration objects."""
