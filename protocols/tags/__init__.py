"""What tag readers send: lines, telegrams, module frames."""
