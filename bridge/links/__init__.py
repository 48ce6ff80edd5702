"""One file a kind of wire, and the supervision they share."""
