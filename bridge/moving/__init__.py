"""A box's memory in one file: made while it weighs, looked through, laid down on another box."""
