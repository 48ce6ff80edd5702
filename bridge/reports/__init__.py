"""What is said afterwards: tally, export, plots."""
