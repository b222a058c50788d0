"""bedtide list."""

from click.testing import CliRunner

from bedtide.cli import main


def test_crops_are_listed_with_their_other_names_months_roots_and_standing():
    result = CliRunner().invoke(main, ["list", "crops"], env={"COLUMNS": "80"})
    assert result.exit_code == 0
    words = " ".join(result.output.split())
    # 30 + 45 + 40 + 25 = 140 days; strawberry 220 days, and then it rests
    expected = "eggplant also aubergine, brinjal; 4.6 months; roots to 70 cm (27.6 in); from memory"
    assert expected in words
    assert "strawberry perennial, grows 7.2 months; roots to 20 cm (7.9 in); from memory" in words
    assert "rocket also arugula, rucola, roquette; 1.6 months" in words
    assert "worked out" in words
