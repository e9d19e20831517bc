"""The same evening line by line, on standard input and output."""
