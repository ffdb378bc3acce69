"""What tests of the live page share: a case whose names try to be markup, a server in a process of its own, a tab's words."""

import json
import os
import re
import signal
import subprocess
import sys
from pathlib import Path
from urllib.parse import urlsplit

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


def answered(page, count):
    """Wait until the answer to a move, or a later one, stands in the page and nothing is being meshed."""
    from playwright.sync_api import expect

    # at one instant: progress of a mesh counts as an answer too, and marks the page until the figures are there
    expect(page.locator(f'.live:not([data-stale])[data-answered="{count}"]')).to_be_visible(timeout=WAIT)


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
