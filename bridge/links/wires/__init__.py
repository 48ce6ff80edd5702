"""What every wire has in common, and the plainest of them."""
