"""The ways of cutting a byte stream into frames: see `protocols.framing.framer.framer`."""
