import base64
import signal
import socket
import subprocess
import time
from pathlib import Path

import pytest
from live_tab import WAIT, Served, answered, move

sync = pytest.importorskip("playwright.sync_api", reason="playwright is not installed: pip install -e '.[dev]'")
expect = sync.expect


def raw(port, lines, address="127.0.0.1"):
    """Send a request of these lines over a plain socket; returns the status and the body."""
    with socket.create_connection((address, port), timeout=10) as connection:
        connection.sendall(("\r\n".join(lines) + "\r\nConnection: close\r\n\r\n").encode())
        found = b""
        while part := connection.recv(65536):
            found += part
    head, _, body = found.partition(b"\r\n\r\n")
    return int(head.split()[1]), body.decode()


def test_a_foreign_host_or_origin_is_refused_on_the_wire(served):
    own, key = f"127.0.0.1:{served.port}", base64.b64encode(bytes(16)).decode()
    assert raw(served.port, ["GET / HTTP/1.1", f"Host: {own}"])[0] == 200
    for host, origin in ((f"rebound.example:{served.port}", None), (own, "http://rebound.example")):
        lines = [f"Host: {host}", *([f"Origin: {origin}"] if origin else [])]
        status, body = raw(served.port, ["GET / HTTP/1.1", *lines])
        assert status == 403 and body.startswith("refused: ")
        socket_path = "/_nicegui_ws/socket.io/?EIO=4&transport=websocket"
        upgrade = [
            "Upgrade: websocket",
            "Connection: Upgrade",
            "Sec-WebSocket-Version: 13",
            f"Sec-WebSocket-Key: {key}",
        ]
        assert raw(served.port, [f"GET {socket_path} HTTP/1.1", *lines, *upgrade])[0] == 403
        polling = "/_nicegui_ws/socket.io/?EIO=4&transport=polling"
        assert raw(served.port, [f"GET {polling} HTTP/1.1", *lines])[0] == 403


@pytest.mark.skipif(not Path("/proc/net/tcp").exists(), reason="only Linux lists its sockets so")
def test_the_server_listens_on_the_loopback_address_alone(served):
    listening = [
        fields[1]
        for name in ("/proc/net/tcp", "/proc/net/tcp6")
        if Path(name).exists()
        for fields in (line.split() for line in Path(name).read_text().splitlines()[1:])
        if fields[3] == "0A" and int(fields[1].rpartition(":")[2], 16) == served.port
    ]
    assert [address.rpartition(":")[0] for address in listening] == ["0100007F"]


def closed_tabs(server, chromium, count, tasks=10**6):
    """Open tabs side by side, move a slider in each, close them; returns what the server holds when they are forgotten.

    tasks : waited for until no more are left, for at most 20 s; sockets that close take a moment
    """
    context = chromium.new_context()
    pages = []
    for _ in range(count):
        page = context.new_page()
        page.goto(server.url)
        answered(page, 0)
        move(page, "nut_torque", 6000.0)
        answered(page, 1)
        pages.append(page)
        if len(pages) == 5:
            for each in pages:
                each.close()
            pages = []
    for each in pages:
        each.close()
    context.close()
    end = time.monotonic() + 20.0
    while (found := server.counts())["clients"] or len(found["tasks"]) > tasks:
        if time.monotonic() > end:
            break
        time.sleep(0.25)
    return found


@pytest.fixture(scope="module")
def counted(case_file):
    server = Served(str(Path(__file__).with_name("counted_page.py")), str(case_file), stdin=subprocess.PIPE)
    yield server
    server.close()


def test_closed_tabs_leave_no_client_tab_or_task_behind(counted, chromium):
    before = closed_tabs(counted, chromium, 1)
    after = closed_tabs(counted, chromium, 3, len(before["tasks"]))
    assert after["clients"] == after["tabs"] == 0
    assert len(after["tasks"]) <= len(before["tasks"]), after["tasks"]


@pytest.mark.slow
def test_a_hundred_closed_tabs_leave_memory_where_it_was(counted, chromium, capsys):
    before = closed_tabs(counted, chromium, 50)  # until then caches and the allocator fill
    after = closed_tabs(counted, chromium, 50, len(before["tasks"]))
    assert after["clients"] == after["tabs"] == 0
    assert len(after["tasks"]) <= len(before["tasks"]), after["tasks"]
    grown = (after["memory"] - before["memory"]) / 1e6
    with capsys.disabled():
        print(
            f"\n100 tabs: {before['memory'] / 1e6:.0f} MB after 50, {grown:+.1f} MB after 100; tasks {len(after['tasks'])}"
        )
    assert grown < 2.5  # the last answers of 50 tabs alone would be 3 MB


def solving(page):
    """Wait until the page says that its figures are those of before."""
    expect(page.locator(".live[data-stale] .working")).to_contain_text("Solving what was chosen", timeout=WAIT)


def test_figures_of_before_are_marked_while_the_newest_state_has_no_answer(served, tab):
    page = tab().page
    served.process.send_signal(signal.SIGSTOP)  # solving that takes its time
    try:
        move(page, "nut_torque", 6000.0)
        solving(page)
        expect(page.locator(".changes")).to_have_text("As written in the case file.")
    finally:
        served.process.send_signal(signal.SIGCONT)
    answered(page, 1)
    expect(page.locator(".changes")).to_have_text("Changed: nut torque 6.0 N*m.")
    expect(page.locator(".working")).to_be_hidden()


def test_a_move_that_was_not_sent_yet_is_dropped_when_the_setup_is_taken_as_written(served, tab):
    page = tab().page
    served.process.send_signal(signal.SIGSTOP)
    try:
        move(page, "nut_torque", 6000.0)
        move(page, "nut_torque", 7000.0)  # waits for the answer to the first
        move(page, "floor_thickness", 5.0)  # waits until the slider rests
        page.get_by_role("button", name="Back to as written").click()
        solving(page)
    finally:
        served.process.send_signal(signal.SIGCONT)
    answered(page, 2)
    page.wait_for_timeout(500)
    expect(page.locator(".live")).to_have_attribute("data-answered", "2")
    expect(page.locator(".changes")).to_have_text("As written in the case file.")
    expect(page.get_by_role("slider", name="Nut torque")).to_have_value("5000")
    expect(page.get_by_role("slider", name="Floor under the hole")).to_have_value("3")


def test_progress_that_arrives_together_with_the_answer_after_it_does_not_mark_the_answer_as_of_before(tab):
    page = tab().page
    page.evaluate("window.addEventListener('studwell-message', ({ detail }) => { window.newest = detail; })")
    move(page, "nut_torque", 6000.0)
    answered(page, 1)
    page.evaluate(
        """async () => {
          const tell = (detail) => window.dispatchEvent(new CustomEvent("studwell-message", { detail }));
          const progress = { kind: "progress", count: 1, link: window.newest.link, share: 0, text: "waiting" };
          tell({ ...window.newest, order: 1e6 + 1 });
          tell({ ...progress, order: 1e6 });
        }"""
    )
    expect(page.locator(".live")).to_have_attribute("data-answered", "1")
    expect(page.locator(".live[data-stale]")).to_have_count(0)
    expect(page.locator(".working")).to_be_hidden()


def test_a_state_without_a_solution_leaves_no_figures_in_the_verdict(tab):
    page = tab().page
    message = {"kind": "unsolved", "count": 1, "text": "no solution", "link": "setup=x", "order": 1e6}
    page.evaluate("(detail) => window.dispatchEvent(new CustomEvent('studwell-message', { detail }))", message)
    expect(page.locator(".word")).to_have_text("? not solved")
    assert set(page.locator(".keys dd").all_text_contents()) == {"–"}
    expect(page.locator(".live[data-stale] .working")).to_contain_text("Not solved")
    move(page, "nut_torque", 6000.0)
    answered(page, 2)
    expect(page.locator(".keys dd").first).to_contain_text("kN")


def test_ctrl_c_ends_the_server_cleanly_and_an_open_page_says_so(served, open_tab):
    page = open_tab(served.url, served.origin).page
    answered(page, 0)
    status, said = served.interrupted()
    assert status in (0, 130)
    assert "Traceback" not in said and "Error" not in said
    expect(page.locator(".live[data-stale] .working")).to_contain_text("cannot be reached", timeout=WAIT)
    assert page.locator("#move").evaluate("(section) => section.inert")
    with pytest.raises(OSError):
        socket.create_connection(("127.0.0.1", served.port), timeout=2)
