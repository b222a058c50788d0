"""What a weather record is worth."""
