"""A broker: what is delivered to it, what is live, and what is asked over it."""
