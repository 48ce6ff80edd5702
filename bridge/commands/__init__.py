"""One file a command: `arguments(parser)` declares what it takes, `run(args)` does it and returns the exit code."""
