"""What a phone reads of animals: the herd book by search, one animal's story, and the animals of a job."""
