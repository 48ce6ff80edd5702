"""Peers to test against: they spell frames in their own way and import neither the bridge nor the decoders."""
