"""The files a person writes, checked: what is wrong with them, and what would be right."""
