"""The animals expected, read from what a spreadsheet writes."""
