"""How wet it gets when it rains for days."""
