"""Exit statuses and messages of the group; that help is quick; one real process."""

import subprocess
import sys

import pytest

import bedtide.__main__
from bedtide.errors import BalanceError, RangeError, SeveralErrors


@pytest.mark.parametrize(
    ("trouble", "status", "message"),
    [
        (RangeError("box.depth", "too deep", hint="Make it less"), 2, "box.depth: too deep."),
        (
            SeveralErrors([RangeError("a", "is wrong"), RangeError("b", "is wrong")]),
            2,
            "a: is wrong.\n\nb: is wrong.",
        ),
        (BalanceError("balance", "3 mm were lost"), 1, "mistake in bedtide, not in what you gave"),
        (ZeroDivisionError("division by zero"), 1, "This is a bug in bedtide."),
        (PermissionError(13, "Permission denied"), 1, "This is a bug in bedtide."),
        (KeyboardInterrupt(), 130, "Stopped."),
    ],
)
def test_exit_statuses(cli, monkeypatch, trouble, status, message):
    def fail(*args, **kwargs):
        raise trouble

    monkeypatch.setattr("bedtide.bed.example_bed", fail)
    result = cli("season")
    assert result.exit_code == status
    assert message in result.stderr
    assert result.stdout == ""
    assert ("Traceback" in result.stderr) is ("This is a bug" in message)


def test_who_stops_it_while_it_is_loaded_is_told_so_too(monkeypatch, capsys):
    class Stopped:
        def find_spec(self, name, *rest):
            if name == "bedtide.cli":
                raise KeyboardInterrupt

    monkeypatch.delitem(sys.modules, "bedtide.cli", raising=False)
    monkeypatch.setattr(sys, "meta_path", [Stopped(), *sys.meta_path])
    with pytest.raises(SystemExit) as ended:
        bedtide.__main__.main()
    assert ended.value.code == 130
    assert capsys.readouterr().err == "Stopped. Nothing was left half written.\n"


def test_the_weather_in_place_of_the_bed_is_told_apart(cli, tmp_path):
    weather = tmp_path / "days.csv"
    weather.write_text("date,tmax (C),tmin (C),rain (mm)\n2023-05-01,20,10,0\n")
    for command in ("season", "build"):
        result = cli(command, weather)
        assert result.exit_code == 2
        assert "days.csv, line 1: not TOML" in result.stderr
        assert "Expected a bed description first, and the weather after it" in result.stderr
    assert "there is no such file" in cli("season", tmp_path / "none.csv").stderr


def test_an_unknown_command_and_option(cli):
    for words in (["sesaon"], ["season", "--form", "x"], ["new"]):
        result = cli(*words)
        assert result.exit_code == 2
        assert "Usage:" in result.stderr


def test_help_names_every_command(cli):
    result = cli("--help")
    assert result.exit_code == 0
    for name in ("season", "new", "weather", "cautions"):
        assert f"\n  {name}" in result.stdout
        help_text = cli(name, "--help")
        assert help_text.exit_code == 0
        assert "Usage:" in help_text.stdout


def test_a_folder_with_a_command_is_found(tmp_path):
    """What the convention promises: nothing else is to be told of a new command."""
    folder = tmp_path / "greeting"
    folder.mkdir()
    (folder / "__init__.py").write_text("")
    (folder / "command.py").write_text(
        "import click\n\n\n@click.command()\ndef greet():\n"
        '    """Say good morning."""\n    click.echo("Good morning.")\n'
    )
    program = (
        "import sys, bedtide.answers as a; a.__path__.append(sys.argv.pop(1)); "
        "from bedtide.cli import main; main()"
    )
    for words, expected in ((["--help"], "\n  greet "), (["greet"], "Good morning.\n")):
        command = [sys.executable, "-c", program, str(tmp_path), *words]
        done = subprocess.run(command, capture_output=True, text=True, check=True)
        assert expected in done.stdout


def test_version(cli):
    assert cli("--version").stdout == "bedtide 0.1.0\n"


def test_cautions_are_printed_whole(cli, monkeypatch):
    from bedtide.tables import cautions_text

    monkeypatch.setenv("COLUMNS", "60")
    printed = cli("cautions").stdout
    assert max(map(len, printed.splitlines())) <= 60
    assert printed.split() == [word for word in cautions_text().split() if word != "-"]
    assert printed.count("\n\n") == cautions_text().count("\n\n")


def test_help_loads_nothing_heavy():
    code = (
        "import sys; from bedtide.cli import main; main(['--help'], standalone_mode=False); "
        "heavy = {'numpy', 'pandas', 'xarray', 'matplotlib', 'scipy', 'pyet', 'pint'}; "
        "print('loaded', sorted(heavy & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "loaded []"


def test_a_real_process_ends_with_the_right_status(tmp_path):
    done = subprocess.run(
        [sys.executable, "-m", "bedtide", "season", tmp_path / "gone.toml", "w.csv"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 2
    assert "gone.toml" in done.stderr
    assert "Traceback" not in done.stderr
