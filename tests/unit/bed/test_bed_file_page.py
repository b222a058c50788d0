"""docs/bed_file.md names every key there is, no other, and its example runs."""

import contextlib
import io
import re
from pathlib import Path

import pytest

from bedtide.bed import form_keys
from bedtide.bed.model import KEYS

PAGE = (Path(__file__).parents[3] / "docs" / "bed_file.md").read_text(encoding="utf-8")
ALL = [*KEYS.values(), *form_keys().values()]


def _first_cells():
    cells = re.findall(r"^\| (`[^|]*) \|", PAGE, flags=re.MULTILINE)
    return {name for cell in cells for name in re.findall(r"`(\w+)`", cell)}


@pytest.mark.parametrize("key", sorted({key for table in ALL for key in table}))
def test_every_key_is_explained(key):
    if key == "change":
        assert "[[overflow.change]]" in PAGE
    else:
        assert f"`{key}`" in PAGE


def test_no_key_that_does_not_exist():
    assert _first_cells() <= {key for table in ALL for key in table}
    assert len(_first_cells()) > 30


def test_the_example_prints_what_the_page_says():
    code = re.search(r"```python\n(.*?)```", PAGE, flags=re.DOTALL).group(1)
    shown = re.search(r"prints\n\n```\n(.*?)```", PAGE, flags=re.DOTALL).group(1)
    printed = io.StringIO()
    with contextlib.redirect_stdout(printed):
        exec(compile(code, "docs/bed_file.md", "exec"), {})
    assert printed.getvalue() == shown
