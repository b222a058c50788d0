"""Pages in a real browser: quiet, alone, legible, read by mouse, finger, keys and ear, printed."""

import re

import pytest

from helpers.browser import Opened
from page.conftest import BEDS, COMMANDS, changed

pytestmark = pytest.mark.slow  # together; each takes about a second
ANSWERS = list(COMMANDS)
SMALLEST = """() => {
  let least = [99, ""];
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walk.nextNode(); node; node = walk.nextNode()) {
    const own = node.parentElement;
    if (!node.data.trim() || own.closest("script, .hear") || !own.getClientRects().length) continue;
    const grown = own.ownerSVGElement ? own.getScreenCTM().a : 1;
    const size = parseFloat(getComputedStyle(own).fontSize) * grown;
    if (size < least[0]) least = [size, node.data.trim()];
  }
  return least;
}"""
OUTSIDE = """() => {
  const wide = document.documentElement.clientWidth;
  const words = document.querySelectorAll("svg text, p, li, td, th, h1, h2, figcaption");
  return [...words].filter((e) => {
    const box = e.getBoundingClientRect();
    return box.width && !e.closest(".hear") && (box.left < -0.5 || box.right > wide + 0.5);
  }).map((e) => e.textContent);
}"""
OVERPRINTED = """() => {
  const found = [];
  for (const svg of document.querySelectorAll("svg[role=img]")) {
    const boxes = [...svg.querySelectorAll("text")].map((e) => [e.getBBox(), e.textContent]);
    boxes.forEach(([a, one], i) => boxes.slice(i + 1).forEach(([b, other]) => {
      const across = Math.min(a.x + a.width, b.x + b.width) - Math.max(a.x, b.x);
      const up = Math.min(a.y + a.height, b.y + b.height) - Math.max(a.y, b.y);
      if (across > 0.5 && up > 4) found.push(`${one} | ${other}`);
    }));
  }
  return found;
}"""


@pytest.fixture(params=ANSWERS)
def name(request):
    return request.param


@pytest.mark.parametrize("width", [360, 768, 1280])
def test_it_opens_quietly_and_fits(browser, made, name, width):
    with Opened(browser, made(name), width=width) as opened:
        assert opened.said == []
        assert opened.asked == []
        assert opened.page.evaluate("document.documentElement.scrollWidth") == width
        assert opened.page.evaluate(OUTSIDE) == []
        assert opened.page.evaluate(OVERPRINTED) == []
        size, words = opened.page.evaluate(SMALLEST)
        assert size >= 11, words


@pytest.mark.parametrize("bed", BEDS)
@pytest.mark.parametrize("units", ["metric", "us"])
def test_every_bed_fits_its_drawing(browser, cli, garden, tmp_path, bed, units):
    (tmp_path / "bed.toml").write_text(changed(bed), encoding="utf-8")
    page = tmp_path / "page.html"
    span = ("--from", "2022-07-01", "--to", "2022-07-03", "--units", units, "--page", page)
    result = cli("season", tmp_path / "bed.toml", garden / "weather.csv", *span)
    assert result.exit_code == 0, result.stderr
    with Opened(browser, page) as opened:
        assert opened.said == []
        assert opened.page.evaluate(OUTSIDE) == []
        assert opened.page.evaluate(OVERPRINTED) == []


@pytest.mark.parametrize("words", [(), ("--units", "us")], ids=["metric", "us"])
def test_its_tables_fit_a_phone_too(browser, made, name, words):
    with Opened(browser, made(name, *words)) as opened:
        opened.page.evaluate("document.querySelectorAll('details').forEach((e) => e.open = true)")
        assert opened.page.evaluate("document.documentElement.scrollWidth") == 360
        assert opened.page.evaluate(SMALLEST)[0] >= 11
        days = "[...document.querySelectorAll('.days tbody th')].map((e) => e.clientHeight)"
        assert max(opened.page.evaluate(days), default=0) < 30  # each in one line


def test_what_users_wrote_does_nothing(browser, made, name):
    with Opened(browser, made(name, nasty=True)) as opened:
        opened.page.wait_for_timeout(50)
        assert opened.page.evaluate("window.hit") is None
        assert opened.said == []
        assert opened.asked == []


def test_even_an_escape_that_failed_could_not_run(browser, made, tmp_path):
    page = made("season").read_text(encoding="utf-8")
    broken = tmp_path / "broken.html"
    hole = "<script>window.hit=1</script><img src=https://192.0.2.1/x onerror=window.hit=2>"
    broken.write_text(page.replace("<main>", f"<main>{hole}"), encoding="utf-8")
    with Opened(browser, broken) as opened:
        opened.page.wait_for_timeout(50)
        assert opened.page.evaluate("window.hit") is None
        assert len(opened.said) >= 2  # the browser says what it refused


# --- reading a day -----------------------------------------------------------------------------


def _rows(page):
    return page.evaluate(
        "[...document.querySelectorAll('.days tbody tr')].map((r) => [...r.children]"
        ".map((c) => c.textContent.trim()))"
    )


def _read(page):
    return page.locator(".days .reading").first.inner_text()


def test_the_keys_of_the_slider_read_a_day(browser, made):
    with Opened(browser, made("season")) as opened:
        rows = _rows(opened.page)
        slider = opened.page.get_by_role("slider").first
        slider.focus()
        opened.page.keyboard.press("Home")
        assert rows[0][0] == "1 Mar"
        assert _read(opened.page).startswith("1 Mar:")
        opened.page.keyboard.press("ArrowRight")
        opened.page.keyboard.press("ArrowRight")
        assert _read(opened.page).startswith("3 Mar:")
        assert f"Level {rows[2][3]} cm" in _read(opened.page)
        assert f"Level {rows[2][3]} cm" in slider.get_attribute("aria-valuetext")
        opened.page.keyboard.press("End")
        assert _read(opened.page).startswith("30 Nov:")


@pytest.mark.parametrize("way", ["mouse", "finger"])
def test_pointing_reads_the_day_below(browser, made, way):
    with Opened(browser, made("season"), has_touch=way == "finger") as opened:
        page, rows = opened.page, _rows(opened.page)
        page.locator(".days").first.scroll_into_view_if_needed()
        box = page.locator(".days svg").first.bounding_box()
        scale = box["width"] / 336
        # The ground is 294 wide from 34 on: the middle of day 200 of all days.
        x = box["x"] + scale * (34 + 294 * 200.5 / len(rows))
        point = page.mouse.move if way == "mouse" else page.touchscreen.tap
        point(x, box["y"] + 60 * scale)
        assert _read(page).startswith(f"{rows[200][0]}:")
        cursor = page.locator(".days .cursor").first.bounding_box()
        assert cursor["x"] + cursor["width"] / 2 == pytest.approx(x, abs=1)


def test_everything_is_reached_by_tab(browser, made, name):
    with Opened(browser, made(name)) as opened:
        page = opened.page
        wanted = page.locator("summary:visible, input:visible").count()
        seen = set()
        for _ in range(wanted + 2):
            page.keyboard.press("Tab")
            tag = page.evaluate("document.activeElement.tagName")
            seen.add(
                page.evaluate("[...document.querySelectorAll('*')].indexOf(document.activeElement)")
            )
            if tag != "BODY":
                outline = page.evaluate("getComputedStyle(document.activeElement).outlineWidth")
                assert outline == "3px"
        assert len(seen) >= wanted


def test_without_scripts_all_but_the_slider_is_there(browser, made):
    with Opened(browser, made("season"), java_script_enabled=False) as opened:
        assert opened.page.locator(".interactive").is_hidden()
        assert opened.page.locator("svg[role=img]").count() >= 5
        opened.page.locator(".days summary").click()
        rows = opened.page.locator(".days pre")
        assert rows.is_visible()
        assert len(rows.inner_text().splitlines()) == 1 + 275  # March to November


def test_what_is_read_aloud(browser, made):
    with Opened(browser, made("season")) as opened:
        told = opened.page.locator("main").aria_snapshot()
    lines = [line.strip().removeprefix("- ").strip("'") for line in told.splitlines()]
    headings = [line for line in lines if line.startswith("heading")]
    assert headings == [
        'heading "Kitchen bed: 1 March to 30 November 2022" [level=1]',
        'heading "The bed, to scale" [level=2]',
        'heading "Day by day" [level=2]',
        'heading "When to fill" [level=2]',
        'heading "Where the water came from and went" [level=2]',
        'heading "Air in the mix" [level=2]',
        'heading "What this rests on" [level=2]',
        'heading "Take care" [level=2]',
        'heading "Make it again" [level=2]',
    ]
    drawings = [line.split('"')[1] for line in lines if line.startswith("img ")]
    titles = ["Section across the pipes", "Plan, seen from above", "Water, level and air",
              "Calendar", "By height and day"]  # fmt: skip
    assert [told[: len(title)] for told, title in zip(drawings, titles, strict=True)] == titles
    # 24, 17, 17 less 1 1/2, 4 3/4 and 3 1/2 in.
    assert drawings[0] == (
        "Section across the pipes 61 cm (24 in) wide. rim at 43.2 cm (17 in), mix surface at "
        "39.4 cm (15 1/2 in), top of pipes at 12.1 cm (4 3/4 in), overflow at 8.9 cm (3 1/2 in)."
    )
    (slider,) = (line for line in lines if line.startswith("slider"))
    assert "Read a day: Water, level and air" in slider
    rows = [line for line in lines if line.startswith("row ")]
    assert 'row "poured in' in " ".join(rows)


# --- on paper ----------------------------------------------------------------------------------


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_it_prints_on_two_sheets_as_vectors(browser, made, name, paper):
    with Opened(browser, made(name)) as opened:
        pdf = opened.page.pdf(format=paper, print_background=True)
        opened.page.emulate_media(media="print")
        assert opened.page.locator(".interactive:visible, summary:visible").count() == 0
    assert len(re.findall(rb"/Type\s*/Page\b", pdf)) <= 2
    assert b"/Subtype /Image" not in pdf


def test_sixteen_beds_print_on_two_sheets_without_their_bars(browser, cli, garden, tmp_path):
    page = tmp_path / "page.html"
    asked = ("--vary", "box.depth=28cm,34cm,40cm,46cm", "--vary", "overflow.height=4cm,9cm")
    asked += ("--vary", "mix.top.medium=peat,potting mix", "--wet-spell")
    result = cli("compare", garden / "bed.toml", garden / "weather.csv", *asked, "--page", page)
    assert result.exit_code == 0, result.stderr
    with Opened(browser, page) as opened:
        assert opened.page.locator("table.bars:visible").count() == 4
        printed = [opened.page.pdf(format=paper) for paper in ("A4", "Letter")]
        opened.page.emulate_media(media="print")
        assert opened.page.locator("table.bars:visible").count() == 0
        assert opened.page.get_by_role("heading", name="The beds in figures").is_visible()
        assert opened.page.locator("table:visible").count() == 5  # four of beds, one of files
        opened.page.set_viewport_size({"width": 718, "height": 900})  # between the margins of A4
        assert opened.page.evaluate(SMALLEST)[0] >= 8 / 72 * 96
    assert [len(re.findall(rb"/Type\s*/Page\b", pdf)) for pdf in printed] == [2, 2]
