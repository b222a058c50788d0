"""The play page in a real browser: quiet, alone, used by keys, reset, saved, attacked."""

import threading
from contextlib import contextmanager

import pytest

from bedtide import read_bed, read_weather
from bedtide.answers.try_.command import _server
from page.test_browser import OUTSIDE, OVERPRINTED, SMALLEST

pytestmark = pytest.mark.slow  # together
LIP = "[id='overflow.height']"
SLIDER = "[data-of='overflow.height']"


@contextmanager
def served(garden, *, bed="bed.toml", weather="weather.csv"):
    """The server of a bed of the garden."""
    days = read_weather(garden / weather)
    server = _server(read_bed(garden / bed), days, bed, "metric", None, 14, 0)
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

    def opened(server, width=360):
        windows.append(browser.new_context(viewport={"width": width, "height": 800}))
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


def test_a_date_and_its_slider_say_the_same(opened, server):
    page = opened(server)
    page.locator("[data-of='planting.0.planted']").focus()
    page.keyboard.press("ArrowRight")
    assert page.locator("[name='planting.0.planted']").input_value() == "2023-05-11"
    page.fill("[name='planting.0.planted']", "2023-05-15")
    assert page.locator("[data-of='planting.0.planted']").input_value() == "134"
    settle(page)


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
