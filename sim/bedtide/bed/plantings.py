"""The crops of a description, their dates, and whether they crowd one another."""

from __future__ import annotations

from typing import Any

from bedtide.bed.problems import Problems
from bedtide.bed.sections import PlantingTable
from bedtide.crop import Planting, crop


def build_plantings(items: Any, problems: Problems) -> tuple[Planting, ...]:
    """Plantings of the description; mistakes are noted.

    Parameters
    ----------
    items : object
        What stands under ``planting``: a list of tables.
    problems : Problems
        Where mistakes are noted.

    Returns
    -------
    tuple of Planting
        Those without a mistake, in the order of the file.
    """
    if not isinstance(items, list):
        problems.add(
            "planting",
            "not a list of crops",
            kind="field",
            expected="[[planting]] with two brackets on either side, once for each crop",
        )
        return ()
    found = []
    for at, values in enumerate(items):
        path = f"planting.{at}"
        table = problems.table(PlantingTable, values, path)
        if table is not None and (planting := _planting(table, path, problems)) is not None:
            found.append(planting)
    return tuple(found)


def _planting(table: PlantingTable, path: str, problems: Problems) -> Planting | None:
    yearly = isinstance(table.planted, tuple)
    if table.removed is not None:
        if isinstance(table.removed, tuple) != yearly:
            problems.add(
                f"{path}.removed",
                "not the same kind of day as planted",
                kind="field",
                expected='both such as "05-10" or both such as "2027-05-10"',
            )
            return None
        if not yearly and table.removed <= table.planted:
            problems.add(f"{path}.removed", "not after the day of planting")
            return None
    return Planting(
        crop=crop(table.crop),
        planted=table.planted,
        area_share=table.area_share,
        canopy=table.canopy,
        removed=table.removed,
    )
