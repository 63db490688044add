"""The one kind of error a knitter ever sees: what is wrong, where, and what to do."""


class PlanError(ValueError):
    """A request or a file that cannot be planned from; its text is written for the knitter."""

    def _render_traceback_(self) -> list[str]:
        # IPython shows these lines in place of a traceback.
        return [f"Please look at this: {self}"]
