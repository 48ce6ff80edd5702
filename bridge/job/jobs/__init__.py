"""Jobs of one station: begun, perhaps paused, ended; which stay belongs to which."""
