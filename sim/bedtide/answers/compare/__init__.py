"""Which of several beds."""
