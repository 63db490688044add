"""What several tests share: the demo piece, and a real JupyterLab with a real Chromium."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urlsplit

import pytest

from planner.__main__ import SHOW_THE_DEMO, lab_options
from tests.helpers.offline import asked_for, off_the_network

# For every kernel that a test starts, and for JupyterLab in the browser tests.
os.environ.update(SHOW_THE_DEMO)

# Notebooks and tests open the demo itself, never a copy of it that somebody has made.
os.environ["PLANNER_DEMO"] = "1"
ROOT = Path(__file__).resolve().parents[1]
DEMO = ROOT / "data" / "harbour-cushion"
# What a piece's folder may hold beside the piece.
NOT_ITS_OWN = ("plan", "out", "history", ".*")
CHROMIUM_OPTIONS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
]


@pytest.fixture
def demo_copy(tmp_path):
    """A copy of the demo piece that a test may change."""
    return Path(
        shutil.copytree(
            DEMO, tmp_path / "harbour-cushion", ignore=shutil.ignore_patterns(*NOT_ITS_OWN)
        )
    )


@pytest.fixture(scope="session")
def browser():
    """Debian's Chromium, without a window."""
    path = shutil.which("chromium")
    if path is None:
        if os.environ.get("CI"):
            pytest.fail("CI must have Chromium: apt install chromium")
        pytest.skip("there is no Chromium on this computer")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=path, args=CHROMIUM_OPTIONS)
        yield chromium
        chromium.close()


class Lab:
    """A running JupyterLab over a copy of the project, and how to work in it as a knitter does."""

    def __init__(self, root: Path, port: int, token: str, pid: int, asked: Path):
        self.root, self.address, self.token = root, f"http://127.0.0.1:{port}", token
        self.pid, self.asked = pid, asked  # of the server; what it asked for from outside

    def open(self, page, notebook: str):
        page.goto(f"{self.address}/lab/tree/notebooks/{notebook}?token={self.token}&reset")
        page.wait_for_selector(".jp-NotebookPanel-toolbar", timeout=60_000)
        self.idle(page)

    def save(self, page):
        page.get_by_role("menuitem", name="File", exact=True).click()
        page.get_by_text("Save Notebook", exact=True).click()
        page.locator(".jp-mod-dirty").first.wait_for(state="detached", timeout=30_000)

    def idle(self, page):
        page.get_by_text("Python 3 (ipykernel) | Idle").wait_for(timeout=60_000)

    def run_all(self, page, until: str):
        """Run → Run All Cells, until a widget with this text is there; no cell may have failed."""
        page.get_by_role("menuitem", name="Run", exact=True).click()
        page.get_by_text("Run All Cells", exact=True).click()
        page.locator(".jupyter-widgets", has_text=until).first.wait_for(
            state="attached", timeout=120_000
        )
        self.idle(page)
        of_failure = ("application/vnd.jupyter.error", "application/vnd.jupyter.stderr")
        failed = page.locator(", ".join(f'[data-mime-type="{kind}"]' for kind in of_failure))
        assert failed.all_inner_texts() == []


@contextmanager
def jupyterlab(tmp_path: Path):
    """JupyterLab as `python3 -m planner` starts it, over a copy of the project, off the network.

    At its end neither it nor a kernel may have asked for anything from outside this computer.
    """
    root = tmp_path / "project"
    root.mkdir()
    for name in ("planner", "notebooks", "shared", "data", ".lab"):
        shutil.copytree(
            ROOT / name,
            root / name,
            ignore=shutil.ignore_patterns(
                *("plan", "out", "history", "my-*", ".lock", "__pycache__", ".ipynb_checkpoints")
            ),
        )
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    token = "for-this-test-only"
    own = {
        name: str(tmp_path / name.lower())
        for name in ("JUPYTER_CONFIG_DIR", "JUPYTER_RUNTIME_DIR", "JUPYTER_DATA_DIR", "IPYTHONDIR")
    }
    environment = (
        os.environ
        | own
        | {
            "JUPYTER_TOKEN": token,
            "JUPYTERLAB_SETTINGS_DIR": str(tmp_path / "settings"),
        }
    )
    asked = tmp_path / "asked"
    environment |= off_the_network(asked, root)
    environment |= {
        "JUPYTERLAB_WORKSPACES_DIR": str(tmp_path / "workspaces"),
        "PYTHONWARNINGS": "ignore",
    }
    # As a knitter has it: what is changed in the demo goes into a copy, which is opened then.
    environment.pop("PLANNER_DEMO", None)
    command = [
        sys.executable,
        "-m",
        "jupyterlab",
        "--no-browser",
        f"--ServerApp.port={port}",
    ]
    command += lab_options(root)
    log = tmp_path / "jupyterlab.log"
    with log.open("w") as file:
        server = subprocess.Popen(
            command, cwd=root, env=environment, stdout=file, stderr=subprocess.STDOUT
        )
    try:
        running = Lab(root, port, token, server.pid, asked)
        for _ in range(240):
            try:
                urllib.request.urlopen(
                    f"{running.address}/api/status?token={token}", timeout=2
                ).close()
                break
            except (urllib.error.URLError, OSError):
                assert server.poll() is None, log.read_text()
                time.sleep(0.25)
        else:
            pytest.fail(f"JupyterLab did not start: {log.read_text()}")
        yield running
    finally:
        server.terminate()
        server.wait(20)
    assert asked_for(asked) == []


@pytest.fixture
def lab(tmp_path, browser):
    with jupyterlab(tmp_path) as running:
        yield running


@pytest.fixture
def page(browser):
    """A page of the browser; at its end it may have asked for nothing from other computers."""
    context = browser.new_context(viewport={"width": 1400, "height": 1000})
    asked = []
    context.on("request", lambda request: asked.append(request.url))
    page = context.new_page()
    page.on("websocket", lambda socket: asked.append(socket.url))
    yield page
    context.close()
    assert from_outside(asked) == []


def from_outside(addresses: list[str]) -> list[str]:
    """The addresses that lead out of this computer; some hold in themselves what they name."""
    within = ("data", "blob", "about")
    parts = [urlsplit(address) for address in addresses]
    out = [part for part in parts if part.scheme not in within and part.hostname != "127.0.0.1"]
    return [part.geturl() for part in out]
