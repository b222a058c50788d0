"""The public list is what is seen, sorted, light to load, and documented with units."""

import dataclasses
import importlib
import inspect
import re
import subprocess
import sys

import pytest

import bedtide

HEAVY = (
    "matplotlib", "numba", "pyet", "scipy", "netCDF4", "xarray", "pandas", "numpy", "dask",
)  # fmt: skip
FOLDERS = ("weather", "mix", "crop", "bed", "column", "balance", "readings", "many")
PHYSICS = ("mix", "crop", "column")


def functions():
    """Every function that a folder offers, with its folder."""
    for folder in FOLDERS:
        package = importlib.import_module(f"bedtide.{folder}")
        for name in package.__all__:
            thing = getattr(package, name)
            if inspect.isfunction(inspect.unwrap(thing)):
                yield pytest.param(folder, inspect.unwrap(thing), id=f"{folder}.{name}")


FUNCTIONS = list(functions())


def classes():
    for folder in FOLDERS:
        package = importlib.import_module(f"bedtide.{folder}")
        for name in package.__all__:
            if inspect.isclass(getattr(package, name)):
                yield pytest.param(getattr(package, name), id=f"{folder}.{name}")


def section(text: str, title: str) -> str:
    """A section of a NumPy docstring, without its title."""
    found = re.search(rf"^{title}\n-+\n(.*?)(?=^\w[\w ]*\n-+\n|\Z)", text, re.M | re.S)
    return found[1] if found else ""


def entries(text: str) -> dict[str, str]:
    """Each name of a section with its type and description."""
    found: dict[str, str] = {}
    names: list[str] = []
    for line in text.splitlines():
        if line and not line[0].isspace():
            names = [name.strip(" *") for name in line.partition(" : ")[0].split(",")]
            for name in names:
                found[name] = line
        else:
            for name in names:
                found[name] += "\n" + line
    return found


def test_the_public_list_is_what_is_seen_and_sorted():
    names = [name for name in bedtide.__all__ if name != "__version__"]
    assert names == sorted(names)
    assert set(dir(bedtide)) == set(bedtide.__all__)
    for name in bedtide.__all__:
        assert getattr(bedtide, name) is not None


def test_what_does_not_exist_is_said():
    with pytest.raises(AttributeError, match="no attribute 'seasons'"):
        bedtide.seasons  # noqa: B018


@pytest.mark.parametrize("code", ["import bedtide", "from bedtide import sample_weather"])
def test_importing_is_light(code):
    ask = f"import sys; {code}; print(sorted(set({HEAVY}) & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", ask], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


@pytest.mark.parametrize("folder", FOLDERS)
def test_no_picture_library_is_loaded_by_a_folder(folder):
    ask = f"import sys, bedtide.{folder}; print('matplotlib' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", ask], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


@pytest.mark.parametrize("folder", FOLDERS)
def test_a_folder_lists_what_it_offers(folder):
    package = importlib.import_module(f"bedtide.{folder}")
    for name in package.__all__:
        assert hasattr(package, name), name
    public = {
        name
        for name, thing in vars(package).items()
        if not name.startswith("_") and not inspect.ismodule(thing) and name != "annotations"
    }
    assert public == set(package.__all__)


@pytest.mark.parametrize(("folder", "function"), FUNCTIONS)
def test_a_function_is_documented(folder, function):
    text = inspect.getdoc(function)
    assert text, "no docstring"
    first = text.splitlines()[0]
    assert first.endswith("."), first
    given = [name for name in inspect.signature(function).parameters if name != "progress"]
    described = entries(section(text, "Parameters"))
    for name in given:
        assert name in described, name
    assert set(described) <= {*given, "progress"}
    if inspect.signature(function).return_annotation not in (None, "None"):
        assert section(text, "Returns") or section(text, "Yields"), "what comes back is not said"


@pytest.mark.parametrize(("folder", "function"), FUNCTIONS)
def test_a_number_has_its_unit_in_brackets(folder, function):
    described = entries(section(inspect.getdoc(function) or "", "Parameters"))
    for name, text in described.items():
        kind = text.splitlines()[0].partition(" : ")[2]
        number = re.search(r"\bfloat\b|array_like|\bndarray\b", kind)
        if number and not re.search(r"callable|of bool|TOML", kind):
            assert re.search(r"\[[^\]]+\]", text.partition("\n")[2]), name
        if "array" in kind:
            assert "shape" in kind, name


@pytest.mark.parametrize(
    ("folder", "function"), [each for each in FUNCTIONS if each.values[0] in PHYSICS]
)
def test_an_equation_names_its_source(folder, function):
    text = inspect.getdoc(function) or ""
    if ".. math::" in text:
        assert "References" in text or re.search(r"\[\d\]_|FAO-56|\(\d{4}\)", text)


@pytest.mark.parametrize("kind", list(classes()))
def test_a_class_documents_its_fields(kind):
    text = inspect.getdoc(kind)
    assert text
    if dataclasses.is_dataclass(kind) or hasattr(kind, "_fields"):
        names = (
            [field.name for field in dataclasses.fields(kind)]
            if dataclasses.is_dataclass(kind)
            else list(kind._fields)
        )
        listed = "\n".join(
            section(inspect.getdoc(base) or "", "Attributes") for base in inspect.getmro(kind)
        )
        for name in names:
            assert re.search(rf"\b{name}\b", listed or text), name
