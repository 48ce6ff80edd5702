"""Weighings as resources of the ICAR animal data exchange."""
