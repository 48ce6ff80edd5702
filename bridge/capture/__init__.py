"""Captures: what the devices sent, recorded and read again."""
