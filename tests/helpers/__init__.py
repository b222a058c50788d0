"""Things that several tests share."""
