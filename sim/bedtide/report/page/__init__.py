"""A page of an answer: one file that opens anywhere, with its words, drawings and tables."""
