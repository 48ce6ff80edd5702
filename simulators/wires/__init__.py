"""The far ends of real wires, and what happens to bytes on their way."""
