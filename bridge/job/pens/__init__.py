"""Where animals go: pens by weight, gain and what was seen, and by head count."""
