"""The session machine: commands and time in, events and cues out. Pure."""
