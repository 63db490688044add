"""What several tests share: the demo piece, and a real JupyterLab with a real Chromium."""

from __future__ import annotations

import json
import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path
from urllib.parse import urlsplit

import psutil
import pytest

from planner.__main__ import SHOW_THE_DEMO, lab_options
from tests.helpers import warm_kernels as warm
from tests.helpers.offline import asked_for, off_the_network

# For every kernel that a test starts, and for JupyterLab in the browser tests.
os.environ.update(SHOW_THE_DEMO)

# Notebooks and tests open the demo itself, never a copy of it that somebody has made.
os.environ["PLANNER_DEMO"] = "1"
ROOT = Path(__file__).resolve().parents[1]
DEMO = ROOT / "data" / "harbour-cushion"
# What JupyterLab is run over, and what of it is changed by those who work in it.
CHANGED_BY_KNITTERS = ("notebooks", "data")
PROJECT = (*CHANGED_BY_KNITTERS, "planner", "shared", ".lab")
# What a piece's folder may hold beside the piece.
NOT_ITS_OWN = ("plan", "out", "history", ".*")
# Cells run one after the other, and in between a kernel is idle for a moment.
LOOKS, LOOK_EVERY_MS = 4, 100
CHROMIUM_OPTIONS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
]


def pytest_collection_modifyitems(items):
    """What waits for a browser is begun first, so that nothing waits for it at the end."""
    # A sort that leaves equals in their order.
    items.sort(key=lambda item: "lab" not in getattr(item, "fixturenames", ()))


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
        """Open a notebook of the workbook, which begins to run."""
        page.goto(f"{self.address}/lab/tree/notebooks/{notebook}?token={self.token}&reset")
        page.wait_for_selector(".jp-NotebookPanel[data-life]", timeout=60_000)

    def awake(self, page):
        """Wait until the notebook in sight has run."""
        page.wait_for_selector('.jp-NotebookPanel[data-life="awake"]', timeout=120_000)

    def ask(self, path: str, method: str = "GET"):
        """What the server answers."""
        address = f"{self.address}/api/{path}?token={self.token}"
        with urllib.request.urlopen(urllib.request.Request(address, method=method)) as answer:
            return answer.read()

    def answers(self) -> bool:
        """Whether it has started."""
        try:
            return bool(self.ask("status"))
        except (urllib.error.URLError, OSError):
            return False

    def end_kernels(self):
        """End all kernels, as JupyterLab's own menu does."""
        for kernel in json.loads(self.ask("kernels")):
            self.ask(f"kernels/{kernel['id']}", "DELETE")

    def kill_kernels(self):
        """Kill all kernels, as a computer short of memory does."""
        kernels = psutil.Process(self.pid).children()
        assert kernels
        for kernel in kernels:
            kernel.kill()

    def begin_anew(self):
        """Forget all that was done in it."""
        self.end_kernels()
        copy_project(self.root, *CHANGED_BY_KNITTERS)
        for name in ("settings", "workspaces"):
            shutil.rmtree(self.root.parent / name, ignore_errors=True)

    def save(self, page):
        page.get_by_role("menuitem", name="File", exact=True).click()
        page.get_by_text("Save Notebook", exact=True).click()
        page.locator(".jp-mod-dirty").first.wait_for(state="detached", timeout=30_000)

    def idle(self, page):
        page.get_by_text("Python 3 (ipykernel) | Idle").wait_for(timeout=60_000)

    def answer_dialog(self, page):
        """Answer what JupyterLab says when a kernel has died; it does not always say it."""
        from playwright.sync_api import TimeoutError

        accept = page.locator(".jp-Dialog .jp-mod-accept")
        with suppress(TimeoutError):
            accept.wait_for(timeout=8_000)
            accept.click()

    def calm(self, page):
        """Wait until no kernel has anything to do."""
        idle = 0
        for _ in range(1_200):
            states = {kernel["execution_state"] for kernel in json.loads(self.ask("kernels"))}
            idle = idle + 1 if states == {"idle"} else 0
            if idle == LOOKS:
                return
            page.wait_for_timeout(LOOK_EVERY_MS)
        pytest.fail("a kernel is still at work")

    def run_all(self, page, until: str):
        """Wait until a widget with this text is there; no cell may have failed.

        An open notebook has begun to run by itself. One that has stopped is run by the menu.
        """
        life = page.locator(".jp-NotebookPanel[data-life]").first.get_attribute("data-life")
        if life in ("asleep", "stuck"):
            page.get_by_role("menuitem", name="Run", exact=True).click()
            page.get_by_text("Run All Cells", exact=True).click()
        self.awake(page)
        page.locator(".jupyter-widgets", has_text=until).first.wait_for(
            state="attached", timeout=120_000
        )
        self.calm(page)
        of_failure = ("application/vnd.jupyter.error", "application/vnd.jupyter.stderr")
        failed = page.locator(", ".join(f'[data-mime-type="{kind}"]' for kind in of_failure))
        assert failed.all_inner_texts() == []


def copy_project(root: Path, *names: str) -> None:
    """These folders of the project as they are committed, without what a knitter has made."""
    of_a_knitter = ("plan", "out", "history", "my-*", ".lock", ".chosen-piece")
    own = (*of_a_knitter, "__pycache__", ".ipynb_checkpoints")
    for name in names:
        shutil.rmtree(root / name, ignore_errors=True)
        shutil.copytree(ROOT / name, root / name, ignore=shutil.ignore_patterns(*own))


def free_port() -> int:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return free.getsockname()[1]


@contextmanager
def ended(program: subprocess.Popen):
    """Ends a program when it is needed no longer."""
    try:
        yield program
    finally:
        program.terminate()
        program.wait(20)


@contextmanager
def warm_kernels(folder: Path, root: Path, environment: dict[str, str]):
    """Environment in which JupyterLab forks its kernels from a Python that has all imported."""
    place = folder / "kernels.socket"
    spec = folder / "kernels" / "python3" / "kernel.json"
    spec.parent.mkdir(parents=True)
    spec.write_text(json.dumps(warm.kernel_spec(place)))
    command = [sys.executable, warm.__file__, "keep", str(place)]
    with ended(subprocess.Popen(command, cwd=root, env=environment)) as keeper:
        wait_until(place.exists, lambda: "No Python for the kernels.", keeper)
        yield environment | {"JUPYTER_PATH": str(folder)}


def wait_until(is_so, why_not, program: subprocess.Popen) -> None:
    """Wait for what a program that was started makes true, at most a minute."""
    for _ in range(1_200):
        if is_so():
            return
        assert program.poll() is None, why_not()
        time.sleep(0.05)
    pytest.fail(why_not())


@contextmanager
def jupyterlab(folder: Path, *, forked: bool = False):
    """JupyterLab as `python3 -m planner` starts it, over a copy of the project, off the network.

    Its kernels start as a knitter's do, or are forked from a Python that is warm. Neither it nor a
    kernel may have asked for anything from outside this computer.
    """
    root, asked, log = folder / "project", folder / "asked", folder / "jupyterlab.log"
    copy_project(root, *PROJECT)
    port, token = free_port(), "for-this-test-only"
    environment = os.environ | off_the_network(asked, root)
    for name in ("CONFIG_DIR", "RUNTIME_DIR", "DATA_DIR"):
        environment[f"JUPYTER_{name}"] = str(folder / f"jupyter_{name.lower()}")
    environment |= {
        "IPYTHONDIR": str(folder / "ipythondir"),
        "JUPYTER_TOKEN": token,
        "JUPYTERLAB_SETTINGS_DIR": str(folder / "settings"),
        "JUPYTERLAB_WORKSPACES_DIR": str(folder / "workspaces"),
        "PYTHONWARNINGS": "ignore",
    }
    # As a knitter has it: what is changed in the demo goes into a copy, which is opened then.
    environment.pop("PLANNER_DEMO", None)
    command = [sys.executable, "-m", "jupyterlab", "--no-browser", f"--ServerApp.port={port}"]
    command += lab_options(root)
    with ExitStack() as running:
        if forked:
            environment = running.enter_context(warm_kernels(folder, root, environment))
        words = running.enter_context(log.open("w"))
        server = subprocess.Popen(
            command, cwd=root, env=environment, stdout=words, stderr=subprocess.STDOUT
        )
        running.enter_context(ended(server))
        lab = Lab(root, port, token, server.pid, asked)
        wait_until(lab.answers, log.read_text, server)
        yield lab
    assert asked_for(asked) == []


@pytest.fixture(scope="session")
def running_lab(tmp_path_factory):
    """One JupyterLab for all tests of a process; a test asks for `lab`."""
    with jupyterlab(tmp_path_factory.mktemp("lab"), forked=True) as running:
        yield running


@pytest.fixture
def lab(running_lab, browser):
    """A JupyterLab as it is when it was just started: no kernel, nothing open, nothing changed."""
    running_lab.begin_anew()
    yield running_lab
    assert asked_for(running_lab.asked) == []


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
