"""Far sides that are databases."""
