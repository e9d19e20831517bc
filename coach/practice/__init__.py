"""Many handovers at a practice: which dogs need a call."""
