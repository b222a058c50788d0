"""One folder for each answer; none knows another."""
