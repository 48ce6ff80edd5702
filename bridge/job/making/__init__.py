"""Sheets made and changed at the kitchen table: their text, the shelf they lie on, and what they would do."""
