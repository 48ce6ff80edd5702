"""What is said afterwards: tally, export, the paper and its pictures."""
