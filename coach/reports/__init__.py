"""Figures as text, JSON and calendar files."""
