"""The play page in a real browser: quiet, alone, used by keys, reset, saved, attacked."""

import re
import threading
from contextlib import contextmanager

import pytest

from bedtide import read_bed, read_weather
from bedtide.answers.try_.command import server_of
from page.conftest import changed
from page.test_browser import OUTSIDE, OVERPRINTED, SMALLEST

pytestmark = pytest.mark.slow  # together
LIP = "[id='overflow.height']"
SLIDER = "input[data-of='overflow.height']"


@contextmanager
def served(garden, *, bed="bed.toml", weather="weather.csv", units="metric"):
    """The server of a bed of the garden."""
    days = read_weather(garden / weather)
    server = server_of(read_bed(garden / bed), days, bed, units, None, 14, 0)
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.01})
    thread.start()
    try:
        yield server
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


@pytest.fixture(scope="module")
def server(garden):
    with served(garden) as one:
        yield one


@pytest.fixture
def opened(browser):
    """Open the page in a window of its own; nothing may be said or asked elsewhere."""
    windows, said, asked = [], [], []

    def opened(server, width=360, **how):
        windows.append(browser.new_context(viewport={"width": width, "height": 800}, **how))
        page = windows[-1].new_page()
        page.on("console", lambda line: said.append(line.text))
        page.on("pageerror", lambda error: said.append(str(error)))
        page.on("dialog", lambda box: said.append(box.message) or box.dismiss())
        page.on("request", lambda request: asked.append((request.url, server.url)))
        page.goto(server.url)
        settle(page)
        return page

    yield opened
    for window in windows:
        window.close()
    assert said == []
    assert all(url.startswith((own, "blob:", "data:")) for url, own in asked)


def settle(page):
    """Wait until no figure is an old one."""
    try:
        page.locator(".old").first.wait_for(state="detached")
    except Exception as error:
        pytest.fail(f"{error}: {page.locator('.state').inner_text()}")


def figures(page):
    return page.locator("#figures").inner_text()


@pytest.mark.parametrize("width", [360, 768, 1280])
def test_it_opens_quietly_and_fits(opened, server, width):
    page = opened(server, width)
    assert page.evaluate("document.documentElement.scrollWidth") == width
    assert page.evaluate(OUTSIDE) == []
    assert page.evaluate(OVERPRINTED) == []
    size, words = page.evaluate(SMALLEST)
    assert size >= 11, words
    assert "working" not in figures(page)


def test_what_stays_in_sight_never_lies_on_the_cautions(opened, server):
    page = opened(server, 1280)
    page.locator("footer").evaluate("(footer) => footer.scrollIntoView({block: 'end'})")
    seen, footer = (page.locator(each).bounding_box() for each in (".seen", "footer"))
    assert seen["y"] < 0 < footer["y"]  # scrolled so far that it stopped following
    assert seen["y"] + seen["height"] <= footer["y"]


def test_every_control_has_a_name_and_a_second_way(opened, server):
    page = opened(server)
    for box in page.locator("form [name]").all():
        assert page.locator(f"label[for='{box.get_attribute('id')}']").inner_text().strip()
    for slider in page.locator("input[type=range]").all():
        assert slider.get_attribute("aria-label")
        assert page.locator(f"[name='{slider.get_attribute('data-of')}']").count() == 1


def test_keys_move_a_slider_and_everything_follows(opened, server):
    page = opened(server)
    before, drawing = figures(page), page.locator("#drawing").inner_html()
    page.locator(SLIDER).focus()
    for _ in range(6):
        page.keyboard.press("ArrowLeft")  # half a centimetre each, from 8.89
    settle(page)
    assert page.locator(LIP).input_value() == "5.89"
    assert figures(page) != before
    assert page.locator("#drawing").inner_html() != drawing
    assert "5.9 cm" in page.locator("#drawing").inner_text()
    typed = opened(server)
    typed.fill(LIP, "5.89")
    settle(typed)
    assert figures(typed) == figures(page)
    assert typed.locator(SLIDER).input_value() == "5.89"
    page.get_by_text("Back to my file").click()
    settle(page)
    assert page.locator(LIP).input_value() == "8.89"
    assert figures(page) == before


# --- the grips on the drawing ------------------------------------------------------------------


def by_mouse(page, x, y, up):
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x, y - up, steps=5)
    yield
    page.mouse.up()


def by_finger(page, x, y, up):
    tell = page.context.new_cdp_session(page)

    def touch(kind, *points):
        at = [{"x": x, "y": y} for y in points]
        tell.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": at})

    touch("touchStart", y)
    for part in range(1, 6):
        touch("touchMove", y - up * part / 5)
    yield
    touch("touchEnd")


@pytest.mark.parametrize(
    ("drag", "key", "up", "units"),
    [
        (by_mouse, "overflow.height", 5.0, "metric"),
        (by_mouse, "mix depth", -6.0, "us"),
        (by_finger, "overflow.height", -3.0, "us"),
        (by_finger, "mix depth", 6.0, "metric"),
    ],
)
def test_a_grip_is_dragged_on_the_drawing(opened, garden, drag, key, up, units):
    inch = 2.54 if units == "us" else 1.0
    with served(garden, units=units) as server:
        page = opened(server, has_touch=drag is by_finger)
        grip, box = page.locator(f".grip[data-of='{key}']"), page.locator(f"[name='{key}']")
        grip.scroll_into_view_if_needed()
        # Over the width of the section, 24 in or 60.96 cm, lie so many points of the screen.
        svg = page.locator("#drawing figure > svg")
        line = svg.locator("path.s-muted.thin").last.bounding_box()
        centimetre = line["width"] / 60.96
        where, before = grip.bounding_box(), float(box.input_value()) * inch
        x, y = where["x"] + where["width"] / 2, where["y"] + where["height"] / 2
        scrolled = page.evaluate("scrollY")
        moving = drag(page, x, y, up * centimetre)
        next(moving)
        page.wait_for_function(
            f"document.querySelector('[name=\"{key}\"]').value != {before / inch}"
        )
        settle(page)
        after = float(box.input_value()) * inch
        step = 0.5 if units == "metric" else 0.25 * 2.54
        assert after - before == pytest.approx(up, abs=step / 2 + 0.1)
        held = grip.bounding_box()  # it is where the pointer is, and the line is under it
        assert held["y"] + held["height"] / 2 == pytest.approx(
            y - up * centimetre, abs=(step / 2 + 0.1) * centimetre + 1
        )
        assert page.evaluate("scrollY") == scrolled
        list(moving)
        settle(page)
        assert float(grip.get_attribute("aria-valuenow")) * inch == pytest.approx(after)
        assert page.locator(f"[data-of='{key}'][type=range]").input_value() == box.input_value()
        at = {k: float(v) for k, v in svg.evaluate("e => ({...e.dataset})").items()}
        drawn = at["surface" if key == "mix depth" else "lip"]
        # The pipes are 12.065 cm high; what is drawn is what the figures are of.
        assert 100 * drawn == pytest.approx(after + 12.065 * (key == "mix depth"), abs=0.06)
        top, place = svg.bounding_box(), grip.bounding_box()
        assert place["y"] + place["height"] / 2 == pytest.approx(
            top["y"] + (at["floor"] - drawn * at["scale"]) * top["width"] / 336, abs=1
        )
        page.mouse.move(x, y)  # let go, it follows no more
        assert float(box.input_value()) * inch == after


def test_a_grip_is_moved_by_keys(opened, server):
    page = opened(server)
    grip = page.locator(".grip[data-of='overflow.height']")
    grip.focus()
    assert page.evaluate("getComputedStyle(document.activeElement).outlineWidth") == "3px"
    for key, value in (
        ("ArrowUp", "9.39"),
        ("ArrowRight", "9.89"),
        ("ArrowDown", "9.39"),
        ("PageDown", "4.39"),
        ("ArrowLeft", "3.89"),
        ("PageUp", "8.89"),
    ):
        page.keyboard.press(key)
        assert page.locator(LIP).input_value() == value
        assert grip.get_attribute("aria-valuetext") == f"{value} cm"
    page.keyboard.press("Home")
    assert page.locator(LIP).input_value() == grip.get_attribute("aria-valuemin")
    page.keyboard.press("End")
    assert page.locator(LIP).input_value() == grip.get_attribute("aria-valuemax")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.dataset.of") == "mix depth"
    settle(page)


def test_a_bed_without_an_overflow_has_one_grip(opened, garden):
    (garden / "none.toml").write_text(
        changed("false floor that nothing reaches, no outlet"), encoding="utf-8"
    )
    with served(garden, bed="none.toml") as bare:
        page = opened(bare)
        assert page.get_by_role("slider", name="grip").count() == 1
        page.locator(".grip").press("ArrowUp")
        settle(page)


# --- read aloud and on paper -------------------------------------------------------------------


def test_what_is_read_aloud(opened, server):
    page = opened(server)
    page.fill(LIP, "5")
    settle(page)
    lines = [line.strip().removeprefix("- ").strip("'") for line in
             page.locator("main").aria_snapshot().splitlines()]  # fmt: skip

    def named(role):
        return [re.findall(r'"([^"]*)"', line)[0] for line in lines if line.startswith(f"{role} ")]

    assert [line for line in lines if line.startswith("heading")] == [
        'heading "Try: Kitchen bed" [level=1]',
        'heading "Take care" [level=2]',
    ]
    assert any(line.startswith("status: ") for line in lines)
    # 24 in; 17, less 1 1/2, and 4 3/4 in; the lip as it was typed.
    assert named("img") == [
        "Section across the pipes 61 cm (24 in) wide. rim at 43.2 cm (17 in), mix surface at "
        "39.4 cm (15 1/2 in), top of pipes at 12.1 cm (4 3/4 in), overflow at 5 cm (2 in)."
    ]
    assert named("group") == ["The bed", "Mix and mulch", "Watering", "Planting", "A stay away"]
    assert named("rowheader") == [
        *("Fills", "Water to pour", "Wet days", "Dry days", "Reservoir holds", "Full to the rim"),
    ]
    lip, mix = "Overflow: lower lip over the floor", "Mix above the reservoir"
    days = ["Tomato: planted", "Lettuce: planted", "Green bean: planted", "Green manure: planted",
            "Green manure: removed", "Kale: planted", "Kale: removed", "Spinach: planted",
            "Spinach: removed"]  # fmt: skip
    slid = [lip, mix, "Pipes", "Surface under mulch", "Below share: fill under",
            "Every n days: days from fill to fill", *days, "Leave on", "Days away"]  # fmt: skip
    grips = [f"{name}, grip on the drawing" for name in (lip, mix)]
    assert named("slider") == [*grips, *(f"{name}, slider" for name in slid)]
    assert named("combobox") == ["Mix on top", "Mix that wicks", "Fill when"]
    assert named("textbox") == [*days, "Leave on"]
    typed = [f"{lip}, cm", f"{mix}, cm", "Pipes", "Surface under mulch, %",
             "Below share: fill under, %", "Every n days: days from fill to fill",
             "Days away"]  # fmt: skip
    assert named("spinbutton") == typed
    assert named("button") == ["Back to my file", "Save as a bed file"]
    assert 'paragraph: "Changed: Overflow: lower lip over the floor, cm: 5."' in lines


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_it_prints_on_a_sheet_what_was_set_and_found(opened, server, paper):
    page = opened(server)
    page.fill(LIP, "5")
    page.select_option("[name='watering.when']", "never")
    settle(page)
    pdf = page.pdf(format=paper, print_background=True)
    assert len(re.findall(rb"/Type\s*/Page\b", pdf)) == 1
    assert b"/Subtype /Image" not in pdf
    page.emulate_media(media="print")
    assert page.locator(":is(input, select, button, .grip, .state):visible").count() == 0
    assert page.locator("#moved").inner_text() == (
        "Changed: Overflow: lower lip over the floor, cm: 5; Fill when: never."
    )
    assert page.locator("#figures").is_visible()
    assert page.evaluate(OUTSIDE) == []
    page.emulate_media(media="screen")
    page.get_by_text("Back to my file").click()
    settle(page)
    assert page.locator("#moved").inner_text() == "As in your file."


def test_a_date_and_its_slider_say_the_same(opened, server):
    page = opened(server)
    page.locator("[data-of='planting.0.planted']").focus()
    page.keyboard.press("ArrowRight")
    assert page.locator("[name='planting.0.planted']").input_value() == "2023-05-11"
    page.fill("[name='planting.0.planted']", "2023-05-15")
    assert page.locator("[data-of='planting.0.planted']").input_value() == "134"
    settle(page)


@pytest.mark.parametrize(
    ("planted", "moved", "removed", "along"),
    [
        ("10-10", "2023-10-25", "04-15", "2023-04-30"),
        ("10-10", "2023-03-24", "04-15", "2023-09-27"),  # round the year
        ("2023-10-10", "2023-12-31", "2024-04-15", "2024-07-06"),
        ("2023-10-10", "2023-01-01", "2024-04-15", "2023-07-08"),
    ],
)
def test_a_removal_goes_along_with_its_planting(opened, garden, planted, moved, removed, along):
    """By a calendar: 15 days later, 200 earlier, 82 later, 282 earlier."""
    text = (garden / "bed.toml").read_text(encoding="utf-8")
    before, after = text.split("[[planting]]", 1)[0], text[text.index("[watering]") :]
    days = f'planted = "{planted}"\nremoved = "{removed}"\narea_share = "100 %"\n'
    one = f'[[planting]]\ncrop = "spinach"\n{days}\n{after}'
    (garden / "winter.toml").write_text(before + one, encoding="utf-8")
    with served(garden, bed="winter.toml") as server:
        page = opened(server)
        start = page.locator("[name='planting.0.planted']")
        end = page.locator("[name='planting.0.removed']")
        slider = page.locator("[data-of='planting.0.removed']")
        before, at = end.input_value(), slider.input_value()
        start.fill(moved)
        settle(page)
        assert end.input_value() == along
        assert slider.input_value() != at
        assert page.locator(".state.bad").count() == 0
        page.locator("[data-of='planting.0.removed']").press("ArrowRight")  # by itself
        assert start.input_value() == moved
        page.get_by_text("Back to my file").click()
        settle(page)
        assert (end.input_value(), slider.input_value()) == (before, at)


def test_many_changes_stay_a_few_lines_on_the_screen(opened, server):
    page = opened(server)
    for box in page.locator("form [type=number][name]").all():
        box.press("ArrowUp")
    for box in page.locator("form [type=date][name]").all():
        box.fill(box.input_value()[:-1] + "2")
    settle(page)
    moved = page.locator("#moved")
    assert moved.inner_text().count(";") > 12
    assert moved.bounding_box()["height"] <= 80
    page.emulate_media(media="print")
    assert moved.evaluate("(e) => e.scrollHeight <= e.clientHeight + 1")  # on paper all of them


def test_windows_do_not_disturb_each_other(opened, server):
    one, other = opened(server), opened(server)
    before = figures(other)
    one.fill(LIP, "4")
    settle(one)
    other.fill("[name='days']", "3")
    settle(other)
    assert figures(other) == before
    assert "4 cm" in one.locator("#drawing").inner_text()


def test_old_figures_are_marked_until_the_new_are_there(opened, server):
    page = opened(server)
    with server.turn:
        page.fill(LIP, "4")
        page.locator("#refills.old").wait_for()
        assert "Working" in page.locator(".state").inner_text()
        assert page.locator("#refills_years.old").count() == 1
    settle(page)


def test_what_can_not_be_built_is_told_and_mended(opened, server):
    page = opened(server)
    page.fill(LIP, "0")
    page.locator(".state.bad").wait_for()
    assert "out of bounds" in page.locator(".state").inner_text()
    assert page.locator("#refills.old").count() == 1
    page.fill(LIP, "5")
    settle(page)
    assert page.locator(".state.bad").count() == 0


def test_a_bed_is_saved_with_its_comments(opened, server, garden, tmp_path):
    page = opened(server)
    page.fill(LIP, "5")
    settle(page)
    with page.expect_download() as found:
        page.get_by_text("Save as a bed file").click()
    assert found.value.suggested_filename == "bed.toml"
    found.value.save_as(tmp_path / "saved.toml")
    before = (garden / "bed.toml").read_text(encoding="utf-8").splitlines()
    after = (tmp_path / "saved.toml").read_text(encoding="utf-8").splitlines()
    moved = [(a, b) for a, b in zip(before, after, strict=True) if a != b]
    assert len(moved) == 1
    assert moved[0][1].startswith('height = "5 cm"')
    assert "# its lower lip" in moved[0][1]
    assert read_bed(tmp_path / "saved.toml").overflow.height == 0.05


def test_names_stay_words(opened, garden):
    with served(garden, bed="<b> & 'bed'.toml", weather="<i>&.csv") as nasty:
        page = opened(nasty)
        assert page.evaluate("window.hit") is None
        assert "<script>" in page.locator("h1").inner_text()
        assert page.locator("img").count() == 0


def test_another_page_can_neither_read_nor_change(browser, server, tmp_path, monkeypatch):
    calls = []
    monkeypatch.setitem(server.answers, "year", calls.append)
    (tmp_path / "evil.html").write_text("<h1>evil</h1>", encoding="utf-8")
    window = browser.new_context()
    page = window.new_page()
    page.goto((tmp_path / "evil.html").as_uri())
    sent = {"method": "POST", "body": "{}"}
    named = sent | {"headers": {"Content-Type": "application/json", "X-Token": server.token}}
    for how in ({}, sent, sent | {"mode": "no-cors"}, named):
        what = """([url, how]) => fetch(url, how).then((a) => a.text()).catch(() => "")"""
        assert page.evaluate(what, [server.url + "year" * bool(how), how]) == ""
    framed = """(url) => {
        const frame = document.createElement("iframe");
        frame.src = url;
        document.body.append(frame);
        return new Promise((done) => { frame.onload = done; }).then(() => 1);
    }"""
    assert page.evaluate(framed, server.url) == 1
    assert len(page.frames) == 2
    assert all("Try:" not in frame.content() for frame in page.frames)
    assert calls == []
    window.close()


def test_it_says_when_the_program_has_ended(opened, garden):
    with served(garden) as short:
        page = opened(short)
    page.evaluate("() => { window.fetch = () => Promise.reject(new Error('gone')); }")
    page.fill(LIP, "5")
    page.locator(".state.bad").wait_for()
    assert "Start it again" in page.locator(".state").inner_text()
