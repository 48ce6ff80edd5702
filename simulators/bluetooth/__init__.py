"""Bluetooth devices to test against; not shipped."""
