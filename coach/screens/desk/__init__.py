"""The prescriber's desk: a plan written on the dog."""
