"""Speaking: rendered ahead by one child process, played by another, never in the way."""
