"""One configuration as running tasks."""
