"""Beam and dose arithmetic. Pure, keyword-only, exact where sums must be exact."""
