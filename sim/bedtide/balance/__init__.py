"""The daily water balance: from a bed and its weather to what it holds, takes and loses."""

from bedtide.balance.demand import Demand, demand_of, demands_of, due_days
from bedtide.balance.run import Run, State, run_many, set_store
from bedtide.balance.season import (
    air_by_height,
    rests_on,
    run_dataset,
    run_season,
    season_dataset,
    variables_of,
)

__all__ = [
    "Demand",
    "Run",
    "State",
    "air_by_height",
    "demand_of",
    "demands_of",
    "due_days",
    "rests_on",
    "run_dataset",
    "run_many",
    "run_season",
    "season_dataset",
    "set_store",
    "variables_of",
]
