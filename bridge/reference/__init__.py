"""What is looked up: pages of reference, made from the code itself so that they are never behind it."""
