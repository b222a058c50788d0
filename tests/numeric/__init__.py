"""The daily model against a Richards solution of our own, solved once and stored."""
