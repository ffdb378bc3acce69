"""A headless Chromium of the system for tests of pages; skipped with the reason where there is none."""

import shutil
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))  # for live_tab, what tests of the live page share

from live_tab import REFINEMENT, Served, answered, hostile_case

BROWSERS = ("chromium", "chromium-browser")


@dataclass
class Watched:
    """A browser tab and what it did: messages of its console that are errors, requests that left the page's origin."""

    page: object
    errors: list[str] = field(default_factory=list)
    outside: list[str] = field(default_factory=list)


@pytest.fixture(scope="package")
def chromium() -> Iterator[object]:
    """One headless browser for this folder, driven by playwright."""
    driver = pytest.importorskip("playwright.sync_api", reason="playwright is not installed: pip install -e '.[dev]'")
    path = next((found for name in BROWSERS if (found := shutil.which(name))), None)
    if path is None:
        pytest.skip("no Chromium on this machine (Debian: apt-get install chromium)")
    with driver.sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=["--no-sandbox", "--disable-gpu"])
        yield browser
        browser.close()


@pytest.fixture
def open_tab(chromium):
    """Return a function (url, origin, **context options) -> Watched tab; every tab is closed after the test."""
    contexts = []

    def opened(url: str, origin: str = "file://", **options: object) -> Watched:
        context = chromium.new_context(**options)
        contexts.append(context)
        watched = Watched(context.new_page())
        watched.page.on("console", lambda said: watched.errors.append(said.text) if said.type == "error" else None)
        watched.page.on("pageerror", lambda problem: watched.errors.append(str(problem)))
        watched.page.on(
            "request",
            lambda asked: (
                None if asked.url.startswith((origin, "data:", "blob:")) else watched.outside.append(asked.url)
            ),
        )
        watched.page.goto(url)
        return watched

    yield opened
    for context in contexts:
        context.close()


@pytest.fixture
def serious_faults():
    """Return a function (tab) -> texts of serious and critical faults that the accessibility checker finds."""
    checker = pytest.importorskip(
        "axe_playwright_python.sync_playwright", reason="the accessibility checker is not installed"
    )

    def found(tab: Watched) -> list[str]:
        violations = checker.Axe().run(tab.page).response["violations"]
        return [
            f"{fault['id']}: {node['html'][:160]}"
            for fault in violations
            if fault["impact"] in ("serious", "critical")
            for node in fault["nodes"]
        ]

    return found


@pytest.fixture(scope="package")
def case_file(tmp_path_factory):
    """The small case whose names try to be markup, as a file."""
    path = tmp_path_factory.mktemp("live") / "cover.toml"
    path.write_text(hostile_case())
    return path


@pytest.fixture(scope="package")
def servers() -> Iterator[list[Served]]:
    """The live pages that were started; the last one runs until a test ends it."""
    started: list[Served] = []
    yield started
    for server in started:
        server.close()


@pytest.fixture
def served(servers, case_file):
    """A live page of that case, shared by the tests; another one is started after a test that ended it."""
    if not servers or servers[-1].process.poll() is not None:
        options = ("--no-open", "--port", "0", "--refinement", str(REFINEMENT))
        servers.append(Served("-m", "studwell", "page", str(case_file), *options))
    return servers[-1]


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
