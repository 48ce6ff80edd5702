"""Far sides that take events by HTTP."""
