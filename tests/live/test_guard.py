import asyncio
from concurrent.futures import ThreadPoolExecutor

import pytest

from studwell.live.guard import Guard

PORT = 8470


def scope_of(kind="http", host=f"127.0.0.1:{PORT}", origin=None, path="/", method="GET", **more):
    headers = [(b"host", host.encode())] if host is not None else []
    headers += [(b"origin", origin.encode())] if origin is not None else []
    headers += [(name.replace("_", "-").encode(), value.encode()) for name, value in more.items()]
    return {"type": kind, "path": path, "headers": headers} | ({"method": method} if kind == "http" else {})


def answer_of(scope):
    """What a client is sent when what lies behind the guard answers 200, or accepts a socket."""
    sent = []

    async def behind(scope, receive, send):
        if scope["type"] == "http":
            await send({"type": "http.response.start", "status": 200, "headers": [(b"x-frame-options", b"ALLOWALL")]})
            await send({"type": "http.response.body", "body": b"inside"})
        else:
            await send({"type": "websocket.accept"})

    async def receive():
        return {"type": "websocket.connect"}

    async def send(message):
        sent.append(message)

    with ThreadPoolExecutor(1) as aside:  # tests of pages leave an event loop in the first thread
        aside.submit(asyncio.run, Guard(behind, PORT)(scope, receive, send)).result()
    return sent


@pytest.mark.parametrize("name", ["127.0.0.1", "localhost", "LOCALHOST", "[::1]"])
def test_the_names_of_this_machine_are_let_in_with_the_port_and_no_other_port(name):
    assert answer_of(scope_of(host=f"{name}:{PORT}"))[0]["status"] == 200
    assert answer_of(scope_of(host=f"{name}:{PORT + 1}"))[0]["status"] == 403
    assert answer_of(scope_of(host=name))[0]["status"] == 403


@pytest.mark.parametrize(
    "host",
    [
        "rebound.example",
        f"rebound.example:{PORT}",
        f"127.0.0.1.rebound.example:{PORT}",
        f"localhost.:{PORT}",
        f"0.0.0.0:{PORT}",
        f"192.168.1.2:{PORT}",
        f"127.0.0.1:{PORT}@rebound.example",
        "",
        None,
    ],
)
def test_any_other_host_is_refused_in_one_line(host):
    start, body = answer_of(scope_of(host=host))
    assert start["status"] == 403
    assert body["body"].startswith(b"refused: ") and body["body"].count(b"\n") == 1


def test_two_host_headers_are_refused():
    scope = scope_of()
    scope["headers"].append((b"host", b"rebound.example"))
    assert answer_of(scope)[0]["status"] == 403


@pytest.mark.parametrize("kind", ["http", "websocket"])
@pytest.mark.parametrize(
    "origin",
    [
        "http://rebound.example",
        f"http://rebound.example:{PORT}",
        f"https://127.0.0.1:{PORT}",
        f"http://127.0.0.1:{PORT + 1}",
        "null",
    ],
)
def test_another_origin_is_refused_on_requests_and_on_sockets(kind, origin):
    first = answer_of(scope_of(kind, origin=origin, path="/_nicegui_ws/socket.io/"))[0]
    assert first.get("status") == 403 or first["type"] == "websocket.close"


def test_a_socket_is_let_in_from_the_page_itself_and_not_without_an_origin():
    path = "/_nicegui_ws/socket.io/"
    assert (
        answer_of(scope_of("websocket", origin=f"http://localhost:{PORT}", path=path))[0]["type"] == "websocket.accept"
    )
    assert answer_of(scope_of("websocket", path=path))[0]["type"] == "websocket.close"
    foreign = scope_of("websocket", host=f"rebound.example:{PORT}", origin=f"http://127.0.0.1:{PORT}", path=path)
    assert answer_of(foreign)[0]["type"] == "websocket.close"


def test_another_site_may_link_to_the_page_but_not_load_or_start_anything():
    follow = {"sec_fetch_site": "cross-site", "sec_fetch_mode": "navigate"}
    assert answer_of(scope_of(**follow))[0]["status"] == 200
    assert answer_of(scope_of(path="/export/report.html", **follow))[0]["status"] == 403
    embed = {"sec_fetch_site": "cross-site", "sec_fetch_mode": "no-cors"}
    assert answer_of(scope_of(path="/assets/page.css", **embed))[0]["status"] == 403
    neighbour = {"sec_fetch_site": "same-site", "sec_fetch_mode": "cors"}
    assert answer_of(scope_of(**neighbour))[0]["status"] == 403
    own = {"sec_fetch_site": "same-origin", "sec_fetch_mode": "cors"}
    assert answer_of(scope_of(path="/export/report.html", **own))[0]["status"] == 200


@pytest.mark.parametrize("path", ["/docs", "/openapi.json", "/..", "/_niceguiX", "/etc/passwd"])
def test_nothing_but_the_page_and_its_pieces_is_served(path):
    assert answer_of(scope_of(path=path))[0]["status"] == 403


def test_methods_that_the_page_does_not_use_are_refused():
    for method in ("PUT", "DELETE", "OPTIONS", "TRACE"):
        assert answer_of(scope_of(method=method))[0]["status"] == 403


def test_every_answer_carries_the_headers_once_and_scripts_from_outside_or_from_text_are_forbidden():
    for scope in (scope_of(), scope_of(host="rebound.example")):
        headers = answer_of(scope)[0]["headers"]
        names = [name for name, _ in headers]
        assert len(names) == len(set(names))
        found = dict(headers)
        assert found[b"x-frame-options"] == b"DENY" and found[b"x-content-type-options"] == b"nosniff"
        policy = found[b"content-security-policy"].decode()
        assert "default-src 'none'" in policy and "frame-ancestors 'none'" in policy
        assert "unsafe-eval" not in policy and "http" not in policy and "*" not in policy
