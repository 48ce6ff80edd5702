"""An animal that stands there as the box stops: whether what stands there afterwards is the same."""
