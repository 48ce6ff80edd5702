"""The empty platform: what it shows, in what steps, and where the way down to it leads."""
