"""Figures read from the journals: the tally of a session, the sums of a course, corrections."""
