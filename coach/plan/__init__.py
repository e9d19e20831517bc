"""What the prescriber ordered: plan files in and out, spots, findings. Pure but for files.py."""
