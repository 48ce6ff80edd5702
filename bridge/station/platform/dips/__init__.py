"""Dips: feet lifted within a stay, and what they turn out to be."""
