"""One file a command: `arguments(parser)` says what it takes, `run(args)` does it and returns the exit code."""
