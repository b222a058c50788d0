"""Every command, program and picture on the pages is run, and prints what the page says."""

import doctest
import importlib
import json
import pkgutil
import re
import runpy
import shlex
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

import bedtide

ROOT = Path(__file__).parents[2]
DOCS = ROOT / "docs"
PAGES = [
    page
    for page in [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted(DOCS.rglob("*.md"))]
    if page.name != "checks.md"  # made by tests/numeric/make_checks.py, tested there
]
EXAMPLES = sorted((DOCS / "examples").glob("*.py"))
MODULES = sorted(
    found.name
    for found in pkgutil.walk_packages(bedtide.__path__, "bedtide.")
    if not found.name.endswith("__main__")
)


@pytest.fixture(scope="module")
def make_pages() -> dict:
    return runpy.run_path(str(DOCS / "make_pages.py"))


@pytest.mark.slow
@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_a_page_holds_what_its_commands_and_programs_print(page, make_pages):
    text = page.read_text(encoding="utf-8")
    assert make_pages["made"](text) == text, "python docs/make_pages.py"


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_links_lead_somewhere(page):
    text = page.read_text(encoding="utf-8")
    linked = re.findall(r"\]\(([^)#\s]+)(?:#[^)]*)?\)", text) + re.findall(r'src="([^"]+)"', text)
    for target in linked:
        assert target.startswith("http") or (page.parent / target).exists(), target


def test_every_page_is_reached_from_the_index():
    text = (DOCS / "index.md").read_text(encoding="utf-8")
    for page in DOCS.rglob("*.md"):
        name = str(page.relative_to(DOCS))
        assert name == "index.md" or f"({name})" in text, name


@pytest.mark.slow
@pytest.mark.parametrize("example", EXAMPLES, ids=lambda path: path.stem)
def test_an_example_runs(example, tmp_path):
    done = subprocess.run(
        [sys.executable, str(example)], cwd=tmp_path, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip()
    assert "nan" not in done.stdout
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("name", MODULES)
def test_examples_in_docstrings(name):
    failed, _ = doctest.testmod(importlib.import_module(name), optionflags=doctest.ELLIPSIS)
    assert failed == 0


def test_docstrings_are_found():
    finder = doctest.DocTestFinder()
    tried = [
        test
        for name in MODULES
        for test in finder.find(importlib.import_module(name))
        if test.examples
    ]
    assert len(tried) > 10


def test_the_picture_is_that_of_the_season_of_today():
    from PIL import Image

    make = runpy.run_path(str(DOCS / "make_images.py"))
    run = make["season"]()
    with Image.open(DOCS / "images" / "season.png") as kept:
        told, width = json.loads(kept.info["Description"]), kept.width
        dark = (np.asarray(kept.convert("L")) < 128).mean()
    today = json.loads(make["said"](run))
    for key, figure in told.items():
        same = pytest.approx(today[key], rel=1e-6) if isinstance(figure, float) else today[key]
        assert figure == same, "python docs/make_images.py"
    assert width == 520
    assert 0.02 < dark < 0.5


def test_the_commands_of_the_readme_are_those_that_ci_runs():
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    lines = re.findall(r"^python3 -m venv .*$", readme, flags=re.MULTILINE)
    assert len(lines) == 2
    ci = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    for line in lines:
        assert f"\n{line}\n" in ci, line


def test_the_readme_names_every_command(make_pages):
    from bedtide.cli import main

    text = (ROOT / "README.md").read_text(encoding="utf-8")
    for name in main.commands:
        assert f"bedtide {name}" in text, name


def test_python_versions_agree():
    project = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    assert 'requires-python = ">=3.11"' in project
    assert "Python 3.11 or newer" in (ROOT / "README.md").read_text(encoding="utf-8")


def test_commands_of_the_pages_are_ours(make_pages):
    for page in PAGES:
        for line in re.findall(r"^\$ (.*)$", page.read_text(encoding="utf-8"), re.MULTILINE):
            assert shlex.split(line)[0] == "bedtide", f"{page.name}: {line}"
