"""Readings to events, and the service around it."""
