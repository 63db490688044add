"""Kernels that start at once: forked from a Python that has imported everything already.

`python warm_kernels.py keep SOCKET` is that Python, one for each JupyterLab of the tests.
JupyterLab starts `python warm_kernels.py start SOCKET OPTION …` as its kernel: a small
program that has a kernel forked with its own environment, folder and output, and lives and dies
with it. That kernels start without this help is checked where notebooks are run by themselves.
"""

from __future__ import annotations

import importlib
import json
import os
import signal
import socket
import sys
import threading
import traceback
from pathlib import Path
from typing import Any

# What the planner imports only when it is used, and Jupyter when it starts.
LATE = (
    *("debugpy", "ipykernel.datapub", "ipykernel.debugger", "ipykernel.kernelapp", "jedi"),
    *("PIL.Image", "PIL.PngImagePlugin", "PIL.JpegImagePlugin", "coloraide", "openpyxl"),
    *("matplotlib.backends.backend_agg", "matplotlib.figure", "matplotlib.font_manager"),
    *("rustworkx", "scipy.ndimage", "scipy.optimize", "scipy.sparse.csgraph", "scipy.special"),
)
OUTPUT = (1, 2)


def kernel_spec(place: Path) -> dict[str, Any]:
    """How JupyterLab starts a kernel that is forked from the Python that listens at a place."""
    from jupyter_client.kernelspec import get_kernel_spec

    program = [sys.executable, "-I", "-S", __file__]
    start_it = [*program, "start", str(place), "-f", "{connection_file}"]
    return get_kernel_spec("python3").to_dict() | {"argv": start_it}


def keep(place: str) -> None:
    """Import everything, then fork a kernel for everybody who asks at a place."""
    root = Path(importlib.import_module("planner").__file__).parent
    for path in sorted(root.rglob("*.py")):
        name = ".".join(path.relative_to(root.parent).with_suffix("").parts)
        if "__" not in name:
            importlib.import_module(name)
    for name in LATE:
        try:
            importlib.import_module(name)
        except ImportError:  # another version has no such module
            continue
    # The system takes away the kernels that have ended.
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)
    with socket.socket(socket.AF_UNIX) as door:
        # Under another name first: who finds the place finds somebody who listens.
        door.bind(f"{place}.new")
        door.listen(16)
        os.rename(f"{place}.new", place)
        while True:
            caller, _ = door.accept()
            if os.fork() == 0:
                door.close()
                try:
                    become_kernel(caller)
                except BaseException:
                    traceback.print_exc()
                # Whatever it was, it must not go on as the Python that forks.
                os._exit(0)
            caller.close()


def become_kernel(caller: socket.socket) -> None:
    """Be a kernel as the caller asks for it, until its end or the caller's."""
    _, files, *_ = socket.recv_fds(caller, 1, len(OUTPUT))
    for file, number in zip(files, OUTPUT, strict=True):
        os.dup2(file, number)
    words = caller.makefile("rw")
    asked = json.loads(words.readline())
    words.write(f"{os.getpid()}\n")
    words.flush()

    signal.signal(signal.SIGCHLD, signal.SIG_DFL)
    os.setsid()
    os.environ.clear()
    os.environ.update(asked["environment"])
    # It would wait for the end of another parent than it has.
    os.environ.pop("JPY_PARENT_PID", None)
    os.chdir(asked["folder"])
    sys.path[0] = ""

    def end_with_the_caller() -> None:
        words.readline()
        os._exit(1)

    threading.Thread(target=end_with_the_caller, daemon=True).start()
    from ipykernel.kernelapp import IPKernelApp
    from ipywidgets import register_comm_target

    app = IPKernelApp.instance()
    app.initialize(asked["options"])
    # Otherwise done when widgets are imported, which was before there was a kernel.
    register_comm_target(app.kernel)
    app.start()


def start(place: str, *options: str) -> None:
    """Have a kernel forked, hand on what interrupts it, and end when it ends."""
    with socket.socket(socket.AF_UNIX) as line:
        line.connect(place)
        socket.send_fds(line, [b"."], OUTPUT)
        words = line.makefile("rw")
        asked = {"environment": dict(os.environ), "folder": os.getcwd(), "options": options}
        words.write(json.dumps(asked) + "\n")
        words.flush()
        kernel = int(words.readline())
        signal.signal(signal.SIGINT, lambda *_: os.kill(kernel, signal.SIGINT))
        words.readline()


if __name__ == "__main__":
    {"keep": keep, "start": start}[sys.argv[1]](*sys.argv[2:])
