"""Serial ports, here and on the far side of a network."""
