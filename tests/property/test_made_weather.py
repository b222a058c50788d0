"""Whatever legal normals a person types, made-up weather is weather, and can be read."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bedtide import read_weather
from bedtide.weather import made_text, read_normals
from bedtide.weather.made import made_weather

HEADER = "month,high (C),low (C),rain (mm),rain days,sunshine (%),wind (m/s)"


@st.composite
def texts(draw):
    """Normals as a file, each month by itself, wild steps between them included."""
    warm = draw(st.floats(-20.0, 38.0))
    rows = []
    for month in range(1, 13):
        high = warm + draw(st.floats(-8.0, 4.0))
        low = high - draw(st.floats(0.5, 22.0))
        days = draw(st.sampled_from([0.0, 0.01, 0.3, 4.0, 12.5, 25.0, 28.0]))
        rain = days * draw(st.floats(1.0, 74.0))
        sun, wind = draw(st.floats(0.0, 100.0)), draw(st.floats(0.2, 12.0))
        rows.append(f"{month},{high:.3f},{low:.3f},{rain * 1.0001:.4f},{days},{sun:.1f},{wind:.2f}")
    latitude, elevation = draw(st.floats(-90.0, 90.0)), draw(st.floats(-400.0, 5000.0))
    place = [f"# latitude: {latitude:.2f}", f"# elevation: {elevation:.0f} m"]
    return "\n".join([*place, HEADER, *rows]) + "\n"


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("made")


@pytest.mark.slow
@settings(max_examples=25)
@given(text=texts(), seed=st.integers(0, 2**32 - 1))
def test_any_legal_normals(folder, text, seed):
    path, made = folder / "n.csv", folder / "made.csv"
    path.write_text(text)
    normals = read_normals(path)
    days, columns = made_weather(normals, years=3, seed=seed)
    assert all(np.isfinite(values).all() for values in columns.values())
    assert (columns["tmax"] >= columns["tmin"]).all()
    assert (columns["rain"] >= 0.0).all()
    assert (columns["rain"][columns["rain"] > 0.0] >= normals.least_rain).all()
    made.write_text(made_text(normals, years=3, seed=seed))
    record = read_weather(made, accept="zeros")
    assert record.sizes["time"] == len(days)
    assert np.isfinite(record["et0"].values).all()
