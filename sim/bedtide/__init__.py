"""Daily water balance of sub-irrigated raised beds."""

__version__ = "0.1.0"
