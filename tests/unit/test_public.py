"""The public list is what is seen, sorted, light to load, and documented with units."""

import ast
import importlib
import inspect
import pkgutil
import re
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest

import bedtide

HEAVY = (
    "matplotlib", "numba", "pyet", "scipy", "netCDF4", "xarray", "pandas", "numpy", "dask",
    "distributed", "zarr",
)  # fmt: skip
PUBLIC = sorted(set(bedtide.__all__) - {"__version__"})
PHYSICS = ("mix", "crop", "column", "balance", "readings")  # equations, sources, units
PLAIN = ("errors", "files", "tables", "units")  # one line for what no user calls


def modules(*names: str):
    """The modules of some floors, folders and files alike."""
    for name in names:
        package = importlib.import_module(f"bedtide.{name}")
        yield package
        for found in pkgutil.iter_modules(getattr(package, "__path__", ())):
            yield importlib.import_module(f"bedtide.{name}.{found.name}")


ROOT = Path(bedtide.__file__).parent


@cache
def imports(path: Path) -> list[tuple[str, str]]:
    """Modules and names of every `from ... import ...` of a file."""
    nodes = ast.walk(ast.parse(path.read_text(encoding="utf-8")))
    found = [node for node in nodes if isinstance(node, ast.ImportFrom)]
    return [(node.module or "", each.name) for node in found for each in node.names]


def offered(folder: str) -> set[str]:
    """Names that the front file of a folder takes from the files in it."""
    front = imports(ROOT / folder / "__init__.py")
    return {name for module, name in front if module.startswith(f"bedtide.{folder}.")}


FOLDERS = [each.name for each in pkgutil.iter_modules([str(ROOT)]) if each.ispkg]
FOLDERS = [folder for folder in FOLDERS if offered(folder)]


def own(module, kind) -> dict:
    """Functions or classes without an underscore that a module defines itself."""
    named = {name: inspect.unwrap(thing) for name, thing in vars(module).items()}
    return {
        f"{module.__name__.removeprefix('bedtide.')}.{name}": thing
        for name, thing in named.items()
        if kind(thing) and thing.__module__ == module.__name__ and not name.startswith("_")
    }


def found_in(floors, kind) -> dict:
    return {name: thing for module in modules(*floors) for name, thing in own(module, kind).items()}


def takes_arrays(function) -> bool:
    """Whether it works on numbers, and so is physics that is documented in full."""
    given = {name: kind for name, kind in function.__annotations__.items() if name != "return"}
    return bool(re.search(r"ArrayLike|NDArray|\bArray\b", str(given)))


OFFERED = [f"{thing.__module__}.{name}".removeprefix("bedtide.") for folder in PHYSICS
           for name, thing in vars(importlib.import_module(f"bedtide.{folder}")).items()
           if inspect.isfunction(inspect.unwrap(thing))]  # fmt: skip
EQUATIONS = {
    name: function
    for name, function in found_in(PHYSICS, inspect.isfunction).items()
    if ".. math::" in (inspect.getdoc(function) or "")
}
FULL = (
    {name: inspect.unwrap(getattr(bedtide, name)) for name in PUBLIC}
    | EQUATIONS
    | {
        name: function
        for name, function in found_in(PHYSICS, inspect.isfunction).items()
        if name in OFFERED and takes_arrays(function)
    }
)


def over(things: dict):
    """Parametrised over a mapping by name."""
    return pytest.mark.parametrize("thing", things.values(), ids=things)


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


def test_no_way_round_the_arrow_of_imports():
    """A public name leads to no answer, and none of them is reached through `bedtide` itself."""
    assert not [home for home in bedtide._HOMES.values() if "answers" in home]
    for path in ROOT.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                assert "bedtide" not in [each.name for each in node.names], path
            elif isinstance(node, ast.ImportFrom) and node.module == "bedtide":
                allowed = {"__version__", "answers"} if path.name == "cli.py" else {"__version__"}
                assert {each.name for each in node.names} <= allowed, path


def test_what_does_not_exist_is_said():
    with pytest.raises(AttributeError, match="no attribute 'seasons'"):
        bedtide.seasons  # noqa: B018


@pytest.mark.parametrize("code", ["import bedtide", "from bedtide import sample_weather"])
def test_importing_is_light(code):
    ask = f"import sys; {code}; print(sorted(set({HEAVY}) & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", ask], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_one_place_needs_no_cluster_and_no_store():
    # xarray itself loads dask where that is installed; the rest stays away.
    ask = (
        "import sys; from bedtide import *; from bedtide.weather import read_weather; "
        "weather = read_weather(sample_weather(), start='2020-01-01', end='2020-01-31'); "
        "refills(run_season(example_bed(), weather)); "
        "print({'distributed', 'zarr'} & set(sys.modules))"
    )
    done = subprocess.run([sys.executable, "-c", ask], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "set()"


@pytest.mark.parametrize("folder", FOLDERS)
def test_no_picture_library_is_loaded_by_a_folder(folder):
    ask = f"import sys, bedtide.{folder}; print('matplotlib' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", ask], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


@pytest.mark.parametrize("folder", FOLDERS)
def test_a_folder_offers_what_others_use_and_no_more(folder):
    home = f"bedtide.{folder}"
    assert all(hasattr(importlib.import_module(home), name) for name in offered(folder))
    outside = [
        path
        for root in (ROOT, Path(__file__).parents[1], Path(__file__).parents[2] / "docs")
        for path in root.rglob("*.py")
        if ROOT / folder not in path.parents
    ]
    used = {name for path in outside for module, name in imports(path) if module == home}
    used |= {name for name, module in bedtide._HOMES.items() if module == home}
    assert not offered(folder) - used


@over(FULL)
def test_public_names_and_physics_are_documented_in_full(thing):
    text = inspect.getdoc(thing) or ""
    assert text.partition("\n")[0].endswith("."), text
    described = entries(section(text, "Parameters"))
    given = inspect.signature(thing).parameters
    assert set(given) - {"progress"} <= set(described) <= set(given)
    if inspect.signature(thing).return_annotation not in (None, "None"):
        assert section(text, "Returns") or section(text, "Yields"), "what comes back is not said"
    for name, words in described.items():
        kind = words.partition("\n")[0].partition(" : ")[2]
        number = re.search(r"\bfloat\b|array_like|\bndarray\b", kind)
        if number and not re.search(r"callable|of bool|TOML", kind):
            assert re.search(r"\[[^\]]+\]", words.partition("\n")[2]), f"{name}: no unit"
        if "array" in kind:
            assert "shape" in kind, name


@pytest.mark.parametrize("name", PUBLIC)
def test_a_public_name_has_an_example(name):
    assert ">>> " in section(inspect.getdoc(getattr(bedtide, name)) or "", "Examples")


@over(EQUATIONS)
def test_an_equation_names_its_source(thing):
    text = inspect.getdoc(thing) or ""
    assert "References" in text or re.search(r"\[\d\]_|FAO-56|\(\d{4}\)|[Oo]urs?\b", text)


def test_equations_are_found():
    assert {"mix.hydraulics.suction_at", "crop.planting.crop_days"} <= set(EQUATIONS)


@over(found_in(PLAIN, lambda thing: inspect.isfunction(thing) or inspect.isclass(thing)))
def test_elsewhere_a_line_is_enough(thing):
    text = inspect.getdoc(thing) or ""
    assert text.partition("\n")[0].endswith((".", "::")), text
    if thing.__name__ not in PUBLIC:
        assert not re.search(r"^(Parameters|Returns|Raises|Attributes)\n-+$", text, re.M)


@over(found_in(PHYSICS, lambda thing: inspect.isclass(thing) and hasattr(thing, "__annotations__")))
def test_a_number_of_a_class_has_its_unit(thing):
    text, source = inspect.getdoc(thing) or "", inspect.getsource(thing)
    assert text
    listed = section(text, "Attributes")
    lines = source.splitlines()
    for name, kind in thing.__annotations__.items():
        if not re.search(r"float|Array", str(kind)) or "ClassVar" in str(kind):
            continue
        (at,) = [n for n, line in enumerate(lines) if line.strip().startswith(f"{name}: ")]
        said = listed if re.search(rf"\b{name}\b", listed) else text.partition("\n")[0]
        said += " ".join(lines[at - 1 : at + 1])
        assert re.search(r"\[[^\]]+\]", said), name
