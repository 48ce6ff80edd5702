"""Tables of the configuration that need room of their own, and what all tables rest on."""
