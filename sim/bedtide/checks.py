"""Old place of the checks, which are in `bedtide.errors` now."""

from bedtide.errors import choice, consecutive_days, finite, in_range

__all__ = ["choice", "consecutive_days", "finite", "in_range"]
