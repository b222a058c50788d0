"""The daily water balance: from a bed and its weather to what it holds, takes and loses."""

from bedtide.balance.demand import Demand, asking, days_of, demand_of, demands_of, due_days
from bedtide.balance.run import Run, State, run_many, set_store, stored
from bedtide.balance.season import (
    air_by_height,
    readable,
    rests_on,
    run_dataset,
    run_season,
    season_dataset,
    variables_of,
)
