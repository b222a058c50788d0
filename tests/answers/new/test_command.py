"""bedtide new: files to start from, that work, and never over old ones."""

import pytest

from bedtide.bed import example_text, read_bed


def test_the_files_are_there_and_can_be_run(cli, quick, tmp_path):
    folder = tmp_path / "garden"
    result = cli("new", folder)
    assert result.exit_code == 0, result.stderr
    assert sorted(path.name for path in folder.iterdir()) == ["bed.png", "bed.toml", "weather.csv"]
    assert (folder / "bed.toml").read_text(encoding="utf-8") == example_text()
    assert (folder / "bed.png").read_bytes().startswith(b"\x89PNG")
    assert read_bed(folder / "bed.toml").name == "Kitchen bed"
    assert "invented" in (folder / "weather.csv").read_text().splitlines()[0].lower()
    # the command that it prints works
    command = result.stdout.split("bedtide season ")[1].split()
    again = cli("season", *command)
    assert again.exit_code == 0, again.stderr
    assert (folder / "season" / "summary.json").exists()


@pytest.mark.parametrize("name", ["bed.toml", "weather.csv", "bed.png"])
def test_an_old_file_is_never_overwritten(cli, tmp_path, name):
    (tmp_path / name).write_text("mine")
    result = cli("new", tmp_path)
    assert result.exit_code == 2
    assert f"{name} is there already" in result.stderr
    assert [path.name for path in tmp_path.iterdir()] == [name]
    assert (tmp_path / name).read_text() == "mine"


def test_other_files_in_the_folder_stay(cli, tmp_path):
    (tmp_path / "notes.txt").write_text("mine")
    assert cli("new", tmp_path).exit_code == 0
    assert (tmp_path / "notes.txt").read_text() == "mine"


def test_a_file_is_no_folder(cli, tmp_path):
    (tmp_path / "taken").write_text("")
    result = cli("new", tmp_path / "taken")
    assert result.exit_code == 2
    assert "it is a file" in result.stderr
