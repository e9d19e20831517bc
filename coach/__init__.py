"""A session coach for prescribed at-home laser sessions for dogs."""

__version__ = "0.1.0"
