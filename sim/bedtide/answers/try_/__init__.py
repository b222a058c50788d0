"""A page to play with: a bed whose sizes and habits are changed by sliders, answered at once."""
