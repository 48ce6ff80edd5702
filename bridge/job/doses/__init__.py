"""How much of a treatment an animal gets, and when it is clear again."""
