"""A file of events, one a line."""
