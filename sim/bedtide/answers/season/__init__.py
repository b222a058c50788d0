"""One bed through one season."""
