"""Which weighings a person means: by job, day, title and station."""
