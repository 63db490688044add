"""Drawing: what follows from a change is brought up to date by and by, what is quick first.

An action is answered at once. Tables and pictures come afterwards, on the kernel's event loop, one
at a time: between two of them the kernel hears what the knitter does next. Another change begins
anew, so that what nobody will see any more is never drawn. In a script there is no such loop, and
all is drawn at once.
"""

from __future__ import annotations

import asyncio
import threading
from collections import deque
from collections.abc import Callable, Iterable

Step = Callable[[], None]

# Long enough for the loop to take up a message that has come meanwhile, and to begin with it.
PAUSE_S = 0.01


class Drawing:
    """The steps that are still due; each is done under the lock of the desk.

    `failed` is told of an error in a step that is done on the loop, where nobody could catch it.
    """

    def __init__(self, lock: threading.RLock, failed: Callable[[Exception], None]):
        self._lock, self._failed = lock, failed
        self._due: deque[Step] = deque()
        # That of the notebook's cell in which the desk is laid out: callbacks may come on others.
        self._loop = _loop_here()
        self._task: asyncio.Task[None] | None = None

    @property
    def is_due(self) -> bool:
        """Whether any step is due still."""
        return bool(self._due)

    def begin(self, steps: Iterable[Step]) -> None:
        """Do these steps, and none of those that are due still."""
        with self._lock:
            self._due = deque(steps)
        if self._loop is None or self._loop.is_closed():
            self.finish()
        else:
            self._loop.call_soon_threadsafe(self._wake)

    def finish(self) -> None:
        """Do now what is due still."""
        with self._lock:
            while self._due:
                step = self._due.popleft()
                step()

    def _wake(self) -> None:
        if self._loop and (self._task is None or self._task.done()):
            # Kept here, or it would be thrown away while it sleeps.
            self._task = self._loop.create_task(self._go_on())

    async def _go_on(self) -> None:
        """Do one step after the other, until none is due."""
        while self._due:
            await asyncio.sleep(PAUSE_S)
            with self._lock:
                # Meanwhile they may have been done elsewhere.
                if self._due:
                    self._do(self._due.popleft())

    def _do(self, step: Step) -> None:
        try:
            step()
        except Exception as error:  # the steps after it are done all the same
            self._failed(error)


def _loop_here() -> asyncio.AbstractEventLoop | None:
    try:
        return asyncio.get_running_loop()
    except RuntimeError:
        return None  # a script, or a test
