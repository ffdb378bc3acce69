import base64
import json
import os
import re
import signal
import socket
import statistics
import subprocess
import sys
import time
from pathlib import Path
from urllib.parse import urlsplit

import pytest

from studwell.case import case_from_text
from studwell.live.page_words import margin_words
from studwell.show.page_content import quantity_text
from studwell.study.compare import solve_setup

sync = pytest.importorskip("playwright.sync_api", reason="playwright is not installed: pip install -e '.[dev]'")
expect = sync.expect

CASES = Path(__file__).parents[2] / "cases"
REFINEMENT = 0.3
WAIT = 30_000
"""ms; long, since other tests may hold the processor."""

TITLE = (
    "</title><script>window.hurt=1</script><img src=x onerror='window.hurt=1'> ${window.hurt=1} ` \\ \"cover\" &amp;"
)
SETUP = "<b onclick='window.hurt=1'>bottomed</b> & more"


def hostile_case():
    """The small case with a title and a setup whose names try to be markup."""
    text = (CASES / "m6-cover.toml").read_text()
    text = re.sub(r"^title = .*$", lambda _: f"title = {json.dumps(TITLE)}", text, flags=re.MULTILINE)
    return text.replace('[setup."bottomed"]', f"[setup.{json.dumps(SETUP)}]")


class Served:
    """A live page in a process of its own."""

    def __init__(self, *command, stdin=None):
        environment = os.environ | {"OPENBLAS_NUM_THREADS": "1"}
        self.process = subprocess.Popen(
            [sys.executable, *command],
            stdin=stdin,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            env=environment,
            start_new_session=True,
        )
        self.url = self.process.stdout.readline().strip()
        assert self.url.startswith("http://127.0.0.1:"), self.process.communicate(timeout=30)[1]
        self.origin = self.url.rstrip("/")
        self.port = urlsplit(self.url).port

    def counts(self):
        self.process.stdin.write("count\n")
        self.process.stdin.flush()
        return json.loads(self.process.stdout.readline())

    def interrupted(self):
        """Return the exit status and the messages after Ctrl-C."""
        self.process.send_signal(signal.SIGINT)
        _, said = self.process.communicate(timeout=30)
        return self.process.returncode, said

    def close(self):
        if self.process.poll() is None:
            self.process.terminate()
            self.process.wait(30)
        for stream in (self.process.stdin, self.process.stdout, self.process.stderr):
            if stream is not None:
                stream.close()


@pytest.fixture(scope="module")
def case_file(tmp_path_factory):
    path = tmp_path_factory.mktemp("live") / "cover.toml"
    path.write_text(hostile_case())
    return path


@pytest.fixture(scope="module")
def served(case_file):
    command = ("-m", "studwell", "page", str(case_file), "--no-open", "--port", "0", "--refinement", str(REFINEMENT))
    server = Served(*command)
    yield server
    server.close()


@pytest.fixture
def tab(served, open_tab):
    """Function: query -> a tab that shows an answer; what it did wrong fails the test at its end."""
    opened = []

    def function(query="", **options):
        found = open_tab(served.url + query, served.origin, **options)
        opened.append(found)
        answered(found.page, 0)
        return found

    yield function
    for found in opened:
        assert found.errors == [] and found.outside == []


def answered(page, count):
    """Wait until the answer to a move, or a later one, stands in the page and nothing is being meshed."""
    expect(page.locator(".live:not([data-stale])[data-answered]")).to_be_visible(timeout=WAIT)
    expect(page.locator(".live")).to_have_attribute("data-answered", re.compile(rf"^{count}$"), timeout=WAIT)


def move(page, name, value):
    """Drag a slider to a value, as far as the page can tell."""
    page.locator(f"#control-{name}").evaluate(
        "(range, value) => { range.value = value; range.dispatchEvent(new Event('input', { bubbles: true })); }", value
    )


def shown(page):
    """What the page says: {outcome: text}, {mode: (text, state)}."""
    page.locator("#outcomes").evaluate("(details) => { details.open = true; }")
    outcomes = page.locator("tr[data-outcome]").evaluate_all(
        "(rows) => rows.map((row) => [row.dataset.outcome, row.children[1].textContent])"
    )
    margins = page.locator("tr[data-mode]").evaluate_all(
        "(rows) => rows.map((row) => [row.dataset.mode, [row.children[2].textContent, row.dataset.state]])"
    )
    return dict(outcomes), dict(margins)


def test_sliders_change_the_numbers_to_what_the_api_gives_for_the_case_that_is_taken_away(tab):
    page = tab().page
    before = shown(page)
    move(page, "nut_torque", 6200.0)
    answered(page, 1)
    move(page, "floor_thickness", 4.5)  # another mesh
    answered(page, 2)
    with page.expect_download() as download:
        page.get_by_role("button", name="Case file").click()
    case = case_from_text(Path(download.value.path()).read_text(), "taken away")
    setup = case.setups[-1]
    assert setup.name == f"{SETUP}, changed"
    assert setup.tightening.torque == pytest.approx(6200.0) and setup.boss.floor_thickness == pytest.approx(4.5)
    result = solve_setup(setup, refinement=REFINEMENT, band=False)
    outcomes, margins = shown(page)
    assert outcomes == {
        name: "unknown" if outcome.value is None else quantity_text(outcome.value, outcome.unit, "metric")
        for name, outcome in result.outcomes.items()
        if not outcome.absent
    }
    wanted = {mode: margin_words(m.value) for mode, m in result.verdict.margins.items() if m.applies}
    assert margins == {mode: ["" if text == "unknown" else text, state] for mode, (state, text) in wanted.items()}
    assert before[0] != outcomes and before[1] != margins


def test_names_of_a_case_are_text_and_never_markup(tab):
    page = tab().page
    assert page.title() == TITLE
    expect(page.locator("h1")).to_have_text(TITLE)
    expect(page.locator("#setup option").first).to_have_text(SETUP)
    page.get_by_role("button", name="Pin this beside").click()
    expect(page.locator(".beside thead")).to_contain_text(SETUP)
    assert page.evaluate("window.hurt") is None
    assert page.locator(".live img, .live script, .live b").count() == 0


def test_two_browsers_do_not_mix_their_states(tab):
    one, other = tab().page, tab().page
    expected = shown(other)
    for count, torque in enumerate((5500.0, 6500.0, 7500.0), start=1):
        move(one, "nut_torque", torque)
        answered(one, count)
    assert shown(one) != expected and shown(other) == expected
    move(other, "nut_torque", 7500.0)
    answered(other, 1)
    assert shown(other) == shown(one)


def test_a_link_opens_the_same_state_and_a_hostile_one_the_start_with_a_plain_message(tab, served):
    page = tab().page
    start = shown(page)
    move(page, "nut_torque", 6400.0)
    answered(page, 1)
    expect(page).to_have_url(re.compile("nut_torque=6400"), timeout=WAIT)
    again = tab(urlsplit(page.url).query and f"?{urlsplit(page.url).query}").page
    assert shown(again) == shown(page) != start
    expect(again.get_by_label("Nut torque", exact=True)).to_have_value("6400")
    hostile = tab("?setup=%3Cimg%20src=x%20onerror=alert(1)%3E&nut_torque=1e99").page
    expect(hostile.get_by_role("alert")).to_contain_text("This link cannot be opened here")
    assert shown(hostile) == start
    move(hostile, "nut_torque", 6400.0)
    answered(hostile, 1)
    expect(hostile.get_by_role("alert")).to_have_count(0)


def test_pinned_setups_stand_beside_and_keep_their_numbers(tab):
    page = tab().page
    clamp = shown(page)[0]["clamp_max"]
    page.get_by_role("button", name="Pin this beside").click()
    move(page, "nut_torque", 7000.0)
    answered(page, 1)
    row = page.locator(".beside tr", has=page.get_by_role("rowheader", name="clamp max"))
    expect(row.locator("td")).to_have_text([shown(page)[0]["clamp_max"], clamp])
    assert page.locator("path.pinned-0").count() == 3
    page.get_by_label("Units").select_option("inch")
    expect(row.locator("td").nth(1)).to_contain_text("lbf")
    page.get_by_role("button", name="Take A away").click()
    expect(page.locator(".beside")).to_be_hidden()
    assert page.locator("path.pinned-0").count() == 0


def test_sliders_are_moved_by_the_keyboard_and_say_their_value_with_its_unit(tab):
    page = tab().page
    slider = page.get_by_role("slider", name="Nut torque")
    slider.focus()
    page.keyboard.press("ArrowRight")
    answered(page, 1)
    expect(slider).to_have_attribute("aria-valuetext", "5.1 N*m")
    assert slider.evaluate("(range) => getComputedStyle(range).outlineStyle") == "solid"
    exact = page.get_by_label("Nut torque, exact in N*m")
    exact.fill("6.3")
    page.keyboard.press("Tab")
    answered(page, 2)
    expect(slider).to_have_value("6300")
    exact.fill("6300")
    page.keyboard.press("Tab")
    expect(page.get_by_text("not taken; allowed: 0.1 N*m to 10.0 N*m")).to_be_visible()
    expect(slider).to_have_value("6300")
    page.get_by_label("Units").select_option("inch")
    expect(slider).to_have_attribute("aria-valuetext", re.compile(r"^4\.6\d lbf\*ft$"))


@pytest.mark.parametrize("look", ["light", "dark"])
def test_the_accessibility_checker_finds_no_serious_fault(tab, serious_faults, look):
    found = tab(color_scheme=look)
    page = found.page
    page.get_by_role("button", name="Pin this beside").click()
    expect(page.locator(".beside")).to_be_visible()
    page.locator("#outcomes summary").click()
    assert serious_faults(found) == []
    if look == "dark":  # the page's own choice goes before the system's
        page.get_by_label("Look").select_option("light")
        paper = page.evaluate("getComputedStyle(document.body).backgroundColor")
        assert sum(map(int, re.findall(r"\d+", paper))) > 600
        assert serious_faults(found) == []


def test_a_phone_shows_the_page_without_scrolling_sideways(tab):
    page = tab(viewport={"width": 375, "height": 667}).page
    page.locator("#outcomes summary").click()
    page.get_by_role("button", name="Pin this beside").click()
    expect(page.locator(".beside")).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth") <= 375
    page.get_by_role("slider", name="Nut torque").scroll_into_view_if_needed()
    expect(page.locator(".band")).to_be_in_viewport()


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


@pytest.fixture
def counted(case_file):
    server = Served(str(Path(__file__).with_name("counted_page.py")), str(case_file), stdin=subprocess.PIPE)
    yield server
    server.close()


def test_closed_tabs_leave_no_client_tab_or_task_behind(counted, chromium):
    before = closed_tabs(counted, chromium, 2)
    after = closed_tabs(counted, chromium, 10, len(before["tasks"]))
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


@pytest.mark.slow
def test_moves_are_followed_and_their_median_is_printed(tab, capsys):
    page = tab().page
    script = """async (count) => {
      const root = document.querySelector(".live"), range = document.getElementById("control-nut_torque"), found = [];
      for (let k = 0; k < count; k += 1) {
        const was = root.dataset.answered, start = performance.now();
        const done = new Promise((resolve) => {
          const seen = new MutationObserver(() => { if (root.dataset.answered !== was) { seen.disconnect(); resolve(); } });
          seen.observe(root, { attributes: true });
        });
        range.value = 3000 + 100 * ((17 * k) % count);
        range.dispatchEvent(new Event("input", { bubbles: true }));
        await done;
        found.push(performance.now() - start);
        await new Promise((resolve) => setTimeout(resolve, 50));
      }
      return found;
    }"""
    times = page.evaluate(script, 50)
    with capsys.disabled():
        print(
            f"\n50 moves: median {statistics.median(times):.0f} ms, longest {max(times):.0f} ms from slider to numbers"
        )
    assert len(times) == 50


@pytest.mark.slow
def test_report_and_card_of_the_state_can_be_taken_away(tab):
    page = tab().page
    move(page, "nut_torque", 6200.0)
    answered(page, 1)
    for name, part in (("Report", "report.html"), ("Job card", "card.html"), ("Job card as PDF", "card.pdf")):
        with page.expect_download(timeout=300_000) as download:
            page.get_by_role("button", name=name, exact=True).click()
        content = Path(download.value.path()).read_bytes()
        assert download.value.suggested_filename == f"cover-{part}"
        assert len(content) > 10_000
        if part == "report.html":
            assert b"6.2 N*m" in content and b"<script>window.hurt" not in content


def test_ctrl_c_ends_the_server_cleanly(case_file, open_tab):
    command = ("-m", "studwell", "page", str(case_file), "--no-open", "--port", "0", "--refinement", str(REFINEMENT))
    server = Served(*command)
    try:
        page = open_tab(server.url, server.origin).page
        answered(page, 0)
        status, said = server.interrupted()
    finally:
        server.close()
    assert status in (0, 130)
    assert "Traceback" not in said and "Error" not in said
