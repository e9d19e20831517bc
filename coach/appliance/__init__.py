"""The machine by the dog bed: its clocks and how far they can be trusted."""
