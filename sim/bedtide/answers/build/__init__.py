"""What to cut and buy for a bed, and whether it can be built."""
