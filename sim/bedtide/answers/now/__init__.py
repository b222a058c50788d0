"""What to do this week: when the bed wants its next fill, and how much."""
