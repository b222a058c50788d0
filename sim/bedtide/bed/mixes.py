"""The mix that a description names, blends or measured."""

from __future__ import annotations

from dataclasses import replace

from bedtide.bed.problems import Problems
from bedtide.bed.sections import MixTable
from bedtide.errors import InputError
from bedtide.mix import Mix, blend, fit_bench, medium

_WAYS = ("medium", "recipe", "bench")
_PLAIN = ("theta_r", "theta_s", "alpha", "n", "wetting", "bulk_density")
_ROUNDING = 0.005  # shares of a recipe may miss 100 % by this much


def build_mix(table: MixTable, path: str, problems: Problems) -> Mix | None:
    """Mix of one section, or None with its mistakes noted.

    Parameters
    ----------
    table : MixTable
        The section.
    path : str
        Its key, ``mix.wick`` or ``mix.top``.
    problems : Problems
        Where mistakes are noted.

    Returns
    -------
    Mix or None
        The mix with any number of it that the description overrides.
    """
    ways = [name for name in _WAYS if getattr(table, name) is not None]
    if len(ways) != 1:
        problems.add(
            path,
            f"described in {len(ways)} ways ({', '.join(ways)})" if ways else "not described",
            kind="field",
            expected='one of: medium = "...", recipe = { ... }, bench = { ... }',
        )
        return None
    key = f"{path}.{ways[0]}"
    try:
        mix = _described(table, key, problems)
        return None if mix is None else _overridden(mix, table)
    except InputError as error:
        for one in getattr(error, "errors", (error,)):
            name = one.where.rpartition(", ")[2]
            problems.keep(f"{path}.{name}" if getattr(table, name, None) is not None else key, one)
        return None


def _described(table: MixTable, key: str, problems: Problems) -> Mix | None:
    """The mix before any override."""
    if table.medium is not None:
        mix = medium(table.medium)
        return replace(mix, name=table.name) if table.name else mix
    if table.bench is not None:
        bench = table.bench
        return fit_bench(
            bench.height,
            bench.total_porosity,
            bench.air_after_draining,
            like=bench.like,
            name=table.name or "measured mix",
        )
    recipe = table.recipe or {}
    if not recipe:
        problems.add(key, "names no medium", kind="field", expected='{ "medium" = "60 %", ... }')
        return None
    total = sum(recipe.values())
    if max(recipe.values()) < 1.0 and abs(total - 1.0) > _ROUNDING:
        problems.add(
            key,
            f"the shares add up to {100 * total:.4g} %",
            expected="shares that add up to 100 %, or whole parts such as 3 and 1",
        )
        return None
    return blend(recipe, name=table.name or "")


def _overridden(mix: Mix, table: MixTable) -> Mix:
    """Put the numbers that the description states in place of the mix's own.

    A stated conductivity or exponent keeps the spread of the mix around the new value; a stated
    alpha has none.
    """
    changes: dict[str, float | None] = {
        name: getattr(table, name) for name in _PLAIN if getattr(table, name) is not None
    }
    if "alpha" in changes:
        changes |= {"alpha_low": None, "alpha_high": None}
    if table.k_s is not None:
        factor = table.k_s / mix.k_s
        changes |= {
            "k_s": table.k_s,
            "k_s_low": max(1e-6, mix.k_s_low * factor),
            "k_s_high": min(10_000.0, mix.k_s_high * factor),
        }
    if table.l is not None:
        shift = table.l - mix.l
        changes |= {
            "l": table.l,
            "l_low": max(-2.0, mix.l_low + shift),
            "l_high": min(10.0, mix.l_high + shift),
        }
    if not changes:
        return mix
    stated = ", ".join(name for name in changes if not name.endswith(("_low", "_high")))
    note = f"Stated in the description instead of the table: {stated}."
    return replace(mix, **changes, notes=(*mix.notes, note))  # type: ignore[arg-type]
