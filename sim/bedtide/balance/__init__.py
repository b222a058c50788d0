"""The daily water balance: from a bed and its weather to what it holds, takes and loses."""

from bedtide.balance.audit import balance_error, check_balance
from bedtide.balance.dataset import run_dataset
from bedtide.balance.day import OPEN, State
from bedtide.balance.run import Run, run_many
from bedtide.balance.season import run_season, scalars_of, season_dataset, variables_of
from bedtide.balance.simulate import Forcing, Series, simulate
from bedtide.balance.watering import Rules

__all__ = [
    "OPEN",
    "Forcing",
    "Rules",
    "Run",
    "Series",
    "State",
    "balance_error",
    "check_balance",
    "run_dataset",
    "run_many",
    "run_season",
    "scalars_of",
    "season_dataset",
    "simulate",
    "variables_of",
]
