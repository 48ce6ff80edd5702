"""What can be asked of the running daemon, and the local socket it comes by."""
