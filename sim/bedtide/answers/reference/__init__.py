"""What can be named, and what to beware of."""
