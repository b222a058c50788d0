"""A page as a file: nothing from outside, everything escaped, every drawing with its table."""

import base64
import hashlib
import re
from html.parser import HTMLParser
from itertools import combinations

import pytest

from bedtide.report.style import COLOURS
from page.conftest import COMMANDS, NASTY, changed, sha256

ANSWERS = list(COMMANDS)
TEXTS = ("ink", "muted", "level", "warning")  # of them words are made
MARKS = ("level", "rain", "refill", "overflow", "transpiration", "evaporation", "warning")
AIR = ("air0", "air1", "air2", "air3", "air4")
LIPS = "overflow.height=4cm,5cm,6cm,7cm,9cm"
VOID = {"meta", "link", "input"}
CELLS = {"td", "th"}
ENDS = {"td": CELLS, "th": CELLS, "tr": CELLS | {"tr"}, "li": {"li"},
        "tbody": CELLS | {"tr", "thead"}}  # fmt: skip
OPEN = set().union(*ENDS.values(), ENDS)  # may go without an end: another begins


class Tree(HTMLParser):
    """Every element with its attributes and the text in it, by a parser that is not ours."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.elements: list[dict] = []
        self.stack: list[dict] = []
        self.data: list[str] = []
        self.feed(text)
        self.close()
        for element in self.elements:
            element["text"] = "".join(self.data[element["from"] : element["to"]])

    def handle_starttag(self, tag, attrs):
        while self.stack and self.stack[-1]["tag"] in ENDS.get(tag, ()):
            self.stack.pop()["to"] = len(self.data)
        here = {"tag": tag, "in": list(self.stack), "from": len(self.data), "to": len(self.data)}
        element = {**dict(attrs), **here}
        self.elements.append(element)
        if tag not in VOID:
            self.stack.append(element)

    def handle_startendtag(self, tag, attrs):
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.stack.pop()

    def handle_endtag(self, tag):
        while self.stack[-1]["tag"] != tag:
            assert self.stack[-1]["tag"] in OPEN, f"{self.stack[-1]['tag']} closed by {tag}"
            self.stack.pop()["to"] = len(self.data)
        self.stack.pop()["to"] = len(self.data)

    def handle_data(self, data):
        self.data.append(data)

    def all(self, tag, inside=None):
        return [e for e in self.elements
                if e["tag"] == tag and (inside is None or inside in e["in"])]  # fmt: skip


@pytest.fixture(params=ANSWERS)
def name(request):
    return request.param


def test_nothing_comes_from_outside(made, name):
    path = made(name)
    text = path.read_text(encoding="utf-8")
    tree = Tree(text)
    for element in tree.elements:
        assert "src" not in element, element
        assert "style" not in element, element
        assert not any(key.startswith("on") for key in element), element
        link = element.get("href", element.get("xlink:href", "#"))
        assert link.startswith("#") or link == "data:,", element
    assert "http" not in text.replace('http-equiv="Content-Security-Policy"', "")
    assert "@import" not in text
    assert re.findall(r"url\((?!#)", text) == []
    assert path.stat().st_size < 100_000


def test_it_is_told_as_english_and_made_for_a_phone(made, name):
    tree = Tree(made(name).read_text(encoding="utf-8"))
    assert tree.all("html")[0]["lang"] == "en"
    named = {e["name"]: e["content"] for e in tree.all("meta") if "name" in e}
    assert named["viewport"] == "width=device-width, initial-scale=1"  # it may be zoomed
    assert named["referrer"] == "no-referrer"
    assert tree.all("title")[0]["text"].strip() == tree.all("h1")[0]["text"].strip()


@pytest.mark.parametrize(
    "words",
    [
        ["season", "BARE", "WEATHER", "--from", "2022-07-01", "--to", "2022-07-01"],
        ["away", "BARE", "WEATHER", "--leave", "2027-07-10", "--days", "3", "--all-dates"],
        ["away", "BED", "WEATHER", "--leave", "2027-07-10", "--days", "40", "--try", "none"],
        ["wet-spell", "BARE", "WEATHER", "--spell", "1 day"],
        ["wet-spell", "BED", "WEATHER", "--spell", "9 days of 30 mm", "--vary", LIPS],
        ["compare", "BED", "WEATHER", "--vary", LIPS, "--from", "05-01", "--to", "09-30"],
    ],
    ids=lambda words: f"{words[0]} {words[1]} {words[-1]}",
)
def test_every_state_has_its_page(cli, garden, tmp_path, words):
    (tmp_path / "bare.toml").write_text(changed("nothing planted"), encoding="utf-8")
    files = {"BARE": tmp_path / "bare.toml", "BED": garden / "bed.toml"}
    files["WEATHER"] = garden / "weather.csv"
    page = tmp_path / "page.html"
    result = cli(*(files.get(word, word) for word in words), "--page", page)
    assert result.exit_code == 0, result.stderr
    tree = Tree(page.read_text(encoding="utf-8"))
    whole = tree.all("main")[0]["text"]
    wrong = re.compile(r"\bNone\b(?! of)|\bnan\b|\binf\b|[{}]|Undefined")
    assert wrong.search(whole.split("Make it again")[0]) is None
    answer = next(e for e in tree.elements if e.get("class") == "answer")
    assert answer["text"].split()[:3] == result.stdout.split()[:3]


def test_its_policy_lets_only_its_own_script_and_styles_run(made, name):
    tree = Tree(made(name).read_text(encoding="utf-8"))
    (script,), (styles,) = tree.all("script"), tree.all("style")
    (policy,) = (e["content"] for e in tree.all("meta") if "http-equiv" in e)
    rules = dict(rule.strip().split(" ", 1) for rule in policy.split(";"))
    assert rules["default-src"] == "'none'"
    for kind, element in (("script-src", script), ("style-src", styles)):
        digest = base64.b64encode(hashlib.sha256(element["text"].encode()).digest()).decode()
        assert rules[kind] == f"'sha256-{digest}'"


def test_what_users_wrote_stays_text(made, name):
    """The same elements as with a plain name, and the name as it was given."""
    plain = Tree(made(name).read_text(encoding="utf-8"))
    nasty = Tree(made(name, nasty=True).read_text(encoding="utf-8"))
    assert [e["tag"] for e in nasty.elements] == [e["tag"] for e in plain.elements]
    whole = nasty.all("html")[0]["text"]
    assert NASTY in whole or NASTY.replace('"', '\\"') in whole  # or only in the bed as a file
    assert "<b> & 'bed'.toml" in whole
    assert "<img src=x onerror=window.hit=3>" in nasty.all("main")[0]["text"]
    assert "49" not in nasty.all("title")[0]["text"]


def test_every_drawing_has_a_title_an_alternative_and_a_table(made, name):
    tree = Tree(made(name).read_text(encoding="utf-8"))
    ids = [e["id"] for e in tree.elements if "id" in e]
    assert len(ids) == len(set(ids))
    texts = {e["id"]: e["text"].strip() for e in tree.elements if "id" in e}
    drawings = [e for e in tree.all("svg") if e.get("aria-hidden") != "true"]
    assert drawings
    for svg in drawings:
        assert svg["role"] == "img"
        title, words = (texts[each] for each in svg["aria-labelledby"].split())
        assert len(title) > 3
        assert len(words) > 10
        figure = next(e for e in reversed(svg["in"]) if e["tag"] == "figure")
        told = tree.all("table", figure) or tree.all("ul", figure) or tree.all("p", figure)
        assert told, title
    hidden = [e for e in tree.all("svg") if e not in drawings]
    assert all({"td", "li", "caption"} & {each["tag"] for each in e["in"]} for e in hidden)


def test_it_tells_how_to_make_it_again(made, garden):
    text = Tree(made("season").read_text(encoding="utf-8")).all("main")[0]["text"]
    assert "bedtide season" in text
    assert "--from 2022-03-01" in text
    for file in ("bed.toml", "weather.csv"):
        assert re.search(rf"{file}\s*{sha256(garden / file)}", text), file
    assert 'form = "pipes"' in text


def test_the_same_command_gives_the_same_page(made, garden, tmp_path):
    from click.testing import CliRunner

    from bedtide.cli import main

    pages = []
    for _ in range(2):
        path = tmp_path / "page.html"
        files = [str(garden / "bed.toml"), str(garden / "weather.csv")]
        words = ["season", *files, "--to", "2022-02-10", "--page", str(path)]
        assert CliRunner().invoke(main, words).exit_code == 0
        pages.append(path.read_bytes())
    assert pages[0] == pages[1]


# --- colours ----------------------------------------------------------------------------------


def luminance(colour):
    """Relative luminance, WCAG 2.2."""
    channels = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(one, other):
    """Contrast ratio of two colours, WCAG 2.2, success criteria 1.4.3 and 1.4.11."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_contrast_is_the_one_of_the_standard():
    # Black on white is 21, and #767676 the lightest grey that reaches 4.5 (WCAG's own examples).
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") >= 4.5 > contrast("#777777", "#ffffff")


@pytest.mark.parametrize("name", TEXTS)
def test_words_stand_out(name):
    assert contrast(COLOURS[name], COLOURS["paper"]) >= 4.5


@pytest.mark.parametrize("name", MARKS)
def test_marks_stand_out(name):
    assert contrast(COLOURS[name], COLOURS["paper"]) >= 3


def test_classes_of_air_go_from_dark_to_light():
    steps = [luminance(COLOURS[name]) for name in AIR]
    assert steps == sorted(steps)
    assert all(contrast(COLOURS[a], COLOURS[b]) > 1.15 for a, b in combinations(AIR, 2))


# --- refused ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("page", "message"),
    [
        ("bed.toml", "does not end in .html"),
        ("page", "does not end in .html"),
        ("there.html", "is a folder"),
        ("gone/page.html", "there is no folder"),
    ],
)
def test_a_page_that_can_not_be_written_is_refused_before_the_work(
    cli, quick, tmp_path, bed_file, weather_file, page, message
):
    (tmp_path / "there.html").mkdir()
    before = bed_file.read_bytes()
    result = cli("season", bed_file, weather_file, "--page", tmp_path / page)
    assert result.exit_code == 2
    assert message in result.stderr
    assert "Traceback" not in result.stderr
    assert quick == []
    assert bed_file.read_bytes() == before
