"""A sample of bytes to what it is, how sure, and why."""
