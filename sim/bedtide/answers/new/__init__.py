"""A folder to start from."""
