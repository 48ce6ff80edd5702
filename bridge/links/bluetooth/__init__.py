"""Bluetooth LE and classic, through BlueZ."""
