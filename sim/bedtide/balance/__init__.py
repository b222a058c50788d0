"""The daily water balance: from a bed and its weather to what it holds, takes and loses."""

from bedtide.balance.audit import balance_error, check_balance
from bedtide.balance.dataset import run_dataset
from bedtide.balance.demand import Demand, demand_of
from bedtide.balance.layers import air_by_height, air_layers
from bedtide.balance.run import Run, Series, State, lowest_roots, run_many, set_store
from bedtide.balance.season import run_season, scalars_of, season_dataset, variables_of

__all__ = [
    "Demand",
    "Run",
    "Series",
    "State",
    "air_by_height",
    "air_layers",
    "balance_error",
    "check_balance",
    "demand_of",
    "lowest_roots",
    "run_dataset",
    "run_many",
    "run_season",
    "scalars_of",
    "season_dataset",
    "set_store",
    "variables_of",
]
