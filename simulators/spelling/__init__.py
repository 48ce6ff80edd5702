"""How indicators and readers spell what they send."""
