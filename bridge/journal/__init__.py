"""The durable store: every event before any outlet sees it."""
