"""The server of the page, attacked: each way in that must stay shut."""

import http.client
import json
import socket
import threading
import time

import pytest

from bedtide.answers.try_ import server as module
from bedtide.answers.try_.server import MOST_BYTES, MOST_OPEN, PageServer
from bedtide.errors import FieldError


class Count:
    """An answer that takes a moment and knows how many ran together."""

    def __init__(self):
        self.now = self.most = self.calls = 0

    def __call__(self, given):
        self.calls += 1
        self.now += 1
        self.most = max(self.most, self.now)
        time.sleep(0.05)
        self.now -= 1
        return {"got": given["a"]}


def refuse(given):
    raise FieldError("lip", "too high")


@pytest.fixture
def count():
    return Count()


@pytest.fixture
def served(count):
    server = PageServer(0, lambda nonce: f"<script nonce={nonce}>", {"go": count, "no": refuse})
    server.wait = 0.4
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.01})
    thread.start()
    yield server
    server.shutdown()
    server.server_close()
    thread.join()


def ask(server, method="POST", path="go", body='{"a": "1"}', without=(), **other):
    """Status, headers and body of a request that is as it should be but for what is given."""
    headers = {"Host": server.host, "Content-Length": str(len(body.encode()))}
    if method == "POST":
        headers |= {
            "Origin": f"http://{server.host}",
            "Sec-Fetch-Site": "same-origin",
            "Content-Type": "application/json",
            "X-Token": server.token,
        }
    headers |= {name.replace("_", "-"): value for name, value in other.items()}
    path = path if path.startswith("/") else f"/{server.token}/{path}"
    found = http.client.HTTPConnection("127.0.0.1", server.server_port, timeout=10)
    found.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
    for name, value in headers.items():
        if name not in without:
            found.putheader(name, value)
    found.endheaders(body.encode())
    answer = found.getresponse()
    text = answer.read().decode()
    found.close()
    return answer.status, answer.headers, text


def test_the_page_and_its_answers(served):
    status, headers, text = ask(served, "GET", "", body="")
    assert status == 200
    nonce = text.removeprefix("<script nonce=").removesuffix(">")
    policy = headers["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert f"script-src 'nonce-{nonce}';" in policy
    assert "unsafe" not in policy
    assert "frame-ancestors 'none'" in policy
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["Cache-Control"] == "no-store"
    assert ask(served, "GET", "", body="")[2] != text  # a nonce is used once
    status, _, text = ask(served)
    assert (status, json.loads(text)) == (200, {"got": "1"})


def test_a_mistake_is_told(served):
    status, _, text = ask(served, path="no")
    assert (status, json.loads(text)) == (200, {"error": "lip: too high."})


def test_it_listens_on_the_loop_back_address_alone(served):
    assert served.socket.getsockname()[0] == "127.0.0.1"
    with pytest.raises(OSError, match=r"refused|unreachable"):
        socket.create_connection(("127.0.0.2", served.server_port), timeout=5)


@pytest.mark.parametrize(
    "other",
    [
        {"Host": "evil.example"},
        {"Host": "localhost"},
        {"Host": "127.0.0.1:1"},
        {"without": ("Host",)},
        {"Origin": "http://evil.example"},
        {"Origin": "null"},
        {"without": ("Origin",)},
        {"Sec_Fetch_Site": "cross-site"},
        {"Sec_Fetch_Site": "same-site"},
        {"Sec_Fetch_Site": "none"},
        {"X_Token": "x"},
        {"X_Token": "\xe9"},
        {"without": ("X-Token",)},
    ],
)
def test_what_the_page_did_not_send_is_refused(served, count, other):
    assert ask(served, **other)[0] == 403
    assert count.calls == 0
    if not {"without", "X_Token"} & other.keys() and other != {"Sec_Fetch_Site": "none"}:
        status, _, text = ask(served, "GET", "", body="", **other)  # nor is the page given
        assert (status, text) == (403, "Forbidden")


@pytest.mark.parametrize("path", ["/", "/x/", "/../etc/passwd", "//", "/favicon.ico"])
def test_the_address_can_not_be_guessed(served, path):
    status, headers, text = ask(served, "GET", path, body="")
    assert (status, text) == (404, "Not Found")
    assert "default-src 'none'" in headers["Content-Security-Policy"]


@pytest.mark.parametrize(
    "path", ["../go", "page.j2", "/etc/passwd", "go/../../bed.toml", "file:///etc/passwd"]
)
def test_no_file_has_an_address(served, count, path):
    assert ask(served, path=path)[0] == 404
    assert count.calls == 0


@pytest.mark.parametrize("method", ["PUT", "DELETE", "OPTIONS", "HEAD", "TRACE"])
def test_other_methods_are_refused(served, method):
    assert ask(served, method, "go", body="")[0] == 501


@pytest.mark.parametrize(
    ("status", "other"),
    [
        (413, {"body": json.dumps({"a": "1" * MOST_BYTES})}),
        (413, {"Content_Length": "9" * 5000}),
        (411, {"without": ("Content-Length",)}),
        (411, {"Content_Length": "-1"}),
        (411, {"Content_Length": "1e3"}),
        (411, {"Transfer_Encoding": "chunked"}),
        (415, {"Content_Type": "text/plain"}),
        (415, {"Content_Type": "application/x-www-form-urlencoded"}),
        (400, {"body": "["}),
        (400, {"body": "[" * 4000}),
        (400, {"body": '["a"]'}),
        (400, {"body": '{"a": 1}'}),
        (400, {"body": '{"a": {"b": "c"}}'}),
    ],
)
def test_bodies_are_small_and_plain(served, count, status, other):
    assert ask(served, **other)[0] == status
    assert count.calls == 0


def test_one_calculation_at_a_time(served, count):
    threads = [threading.Thread(target=ask, args=(served,)) for _ in range(6)]
    for each in threads:
        each.start()
    for each in threads:
        each.join()
    assert (count.calls, count.most) == (6, 1)


def test_a_calculation_that_never_ends_keeps_nobody_for_ever(served, monkeypatch):
    monkeypatch.setattr(module, "TURN", 0.05)
    with served.turn:
        assert ask(served)[0] == 503
    assert ask(served)[0] == 200


def ended(connection):
    """Whether the other side ends it, whatever it says before; a time-out is an error."""
    connection.settimeout(60)
    try:
        while connection.recv(1000):
            pass
    except ConnectionError:
        pass
    return True


@pytest.mark.parametrize(
    "said", ["", "GET / HT", "POST /x HTTP/1.1\r\nHost: a\r\n"], ids=["nothing", "line", "heads"]
)
def test_half_open_connections_end(served, said):
    with socket.create_connection(("127.0.0.1", served.server_port)) as connection:
        connection.sendall(said.encode())
        assert ended(connection)


def test_a_body_that_never_comes_ends(served, count):
    with pytest.raises((http.client.HTTPException, ConnectionError)):
        ask(served, Content_Length="100")
    assert count.calls == 0


def test_a_trickle_ends_too(served):
    # A byte each twentieth of a second never meets the time limit of a single read.
    with socket.create_connection(("127.0.0.1", served.server_port)) as connection:
        for _ in range(1000):
            try:
                connection.sendall(b"G")
            except ConnectionError:
                return
            time.sleep(0.05)
    pytest.fail("a request took 50 s to arrive and was waited for")


def test_many_connections_do_not_lock_it_up(served):
    held = [
        socket.create_connection(("127.0.0.1", served.server_port)) for _ in range(3 * MOST_OPEN)
    ]
    time.sleep(0.1)
    assert threading.active_count() < 3 * MOST_OPEN
    for each in held:  # those that said nothing are ended, those without a place at once
        assert ended(each)
        each.close()
    assert ask(served)[0] == 200
