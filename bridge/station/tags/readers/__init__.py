"""What a reader tells: by where it stands, and what is learned of it."""
