"""The journal on disk and the tally that is read from it."""
