"""The animal, the platform, the indicator and the readers."""
