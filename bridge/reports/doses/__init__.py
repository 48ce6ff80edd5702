"""What was given, and who may not go yet."""
