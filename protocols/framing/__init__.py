"""The ways of cutting a byte stream into frames: see `neckyoke.protocols.framing.framer.framer`."""
