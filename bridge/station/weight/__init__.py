"""The weight of one stay: is it settled, how heavy, how sure."""
