"""The numbers that describe one mix, checked once, and their low and high cases."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from bedtide.checks import choice, in_range
from bedtide.errors import InputError, RangeError, raise_all

LOWEST_L = -2.0
"""Lowest Mualem exponent allowed [1]: above -2/m conductivity falls with suction for every n."""

_RANGES = {
    "theta_s": (0.1, 1.0, "m3 m-3"),
    "alpha": (0.01, 1000.0, "m-1"),
    "n": (1.01, 10.0, ""),
    "k_s": (1e-6, 10_000.0, "m d-1"),
    "l": (LOWEST_L, 10.0, ""),
    "bulk_density": (10.0, 2000.0, "kg m-3"),
    "wetting": (0.5, 4.0, ""),
}
WETTING = (1.0, 1.4, 2.0)
"""Low, typical and high `Mix.wetting` [1], see :func:`bedtide.mix.supply_conductivity`.

1 is the drying curve as measured. 2 is the main wetting curve: alpha doubled, Kool & Parker (1987),
from memory; 2.08 +- 0.46 over eight soils, from memory. A bed lives between them; 1.4, their
geometric mean, keeps the evaporation of whole seasons within published bands (docs/checks.md).
"""

_SPREADS = (("k_s", "k_s_low", "k_s_high"), ("l", "l_low", "l_high"))


@dataclass(frozen=True)
class Mix:
    """A mix: van Genuchten retention, Mualem conductivity, and how sure each number is.

    Attributes
    ----------
    name : str
        What it is called.
    theta_r, theta_s : float
        Residual and saturated water content [m3 m-3].
    alpha : float
        Scale of the retention curve; the larger, the sooner it drains [m-1].
    n : float
        Shape of the retention curve; the larger, the more suddenly it drains [1].
    k_s : float
        Saturated conductivity of the matrix, without the gaps that empty at once [m d-1].
    l : float
        Mualem exponent [1].
    bulk_density : float
        Dry mass over volume [kg m-3].
    k_s_low, k_s_high : float
        Bounds of `k_s` [m d-1].
    l_low, l_high : float
        Bounds of `l` [1]. The lower `l`, the better a half-dry mix conducts.
    alpha_low, alpha_high : float or None
        Bounds of `alpha` where a spread is published [m-1]; None where none is.
    wetting : float
        How many times its suction the conductivity of the mix feels, fed from below: 1 on the
        drying curve, 2 on the wetting curve [1].
    sources : tuple of str
        Keys of the published sources behind the numbers.
    standing : str
        How far the numbers can be traced: read, read in a secondary source, from memory, fitted.
    notes : tuple of str
        What was assumed, a sentence each.

    Raises
    ------
    RangeError
        If a number is outside what is possible, or outside its own bounds.
    """

    name: str
    theta_r: float
    theta_s: float
    alpha: float
    n: float
    k_s: float
    l: float  # noqa: E741 - the symbol of the field
    bulk_density: float
    k_s_low: float
    k_s_high: float
    l_low: float
    l_high: float
    alpha_low: float | None = None
    alpha_high: float | None = None
    wetting: float = WETTING[1]
    sources: tuple[str, ...] = ()
    standing: str = "given"
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Refuse what no mix can be, all mistakes at once."""
        errors: list[InputError] = []
        for field, (low, high, unit) in _RANGES.items():
            _collect(errors, getattr(self, field), low, high, f"{self.name}, {field}", unit)
        for field, (low, high, unit) in _RANGES.items():
            for bound in (f"{field}_low", f"{field}_high"):
                value = getattr(self, bound, None)
                if value is not None:
                    _collect(errors, value, low, high, f"{self.name}, {bound}", unit)
        low, high, unit = _RANGES["theta_s"]
        top = self.theta_s - 0.01 if low <= self.theta_s <= high else high
        _collect(errors, self.theta_r, 0.0, top, f"{self.name}, theta_r", unit)
        raise_all(errors)
        for field, low_field, high_field in _SPREADS:
            low, value, high = (getattr(self, f) for f in (low_field, field, high_field))
            _collect(errors, value, low, high, f"{self.name}, {field}", _RANGES[field][2])
        raise_all(errors)


def conductivity_case(mix: Mix, case: str) -> Mix:
    """Return the mix with its conductivity at the low, typical or high end of its spread.

    Answers: does the answer hold if this mix wicks worse, or better, than the typical one?
    Takes both bounds together (low: least `k_s`, highest `l`), so it is wider than either alone.

    Parameters
    ----------
    mix : Mix
        The mix with its spread.
    case : {"low", "typical", "high"}
        Which end [1].

    Returns
    -------
    Mix
        The same mix with `k_s` and `l` of that case, and the same bounds.

    Raises
    ------
    ChoiceError
        If `case` is another word.
    """
    word: Literal["low", "typical", "high"]
    word = choice(case, ("low", "typical", "high"), where="conductivity case")  # type: ignore[assignment]
    if word == "low":
        return replace(mix, k_s=mix.k_s_low, l=mix.l_high)
    if word == "high":
        return replace(mix, k_s=mix.k_s_high, l=mix.l_low)
    return mix


def _collect(
    errors: list[InputError], value: float, low: float, high: float, where: str, unit: str
) -> None:
    """Append the range error of one number, if it has one."""
    try:
        in_range(value, low, high, where=where, unit=unit)
    except RangeError as error:
        errors.append(error)
