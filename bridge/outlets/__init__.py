"""Where events go: each outlet follows the journal from its own position."""
