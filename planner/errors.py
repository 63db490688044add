"""The one kind of error a knitter ever sees: what is wrong, where, and what to do."""

# A message may quote a file. Where it grows too long, its middle is left out: it begins with what
# and where, and ends with what to do.
LONGEST = 1_500  # letters
FROM_THE_START, FROM_THE_END = 700, 500


class PlanError(ValueError):
    """A request or a file that cannot be planned from; its text is written for the knitter."""

    def __init__(self, words: str):
        if len(words) > LONGEST:
            words = f"{words[:FROM_THE_START]} … {words[-FROM_THE_END:]}"
        super().__init__(words)

    def _render_traceback_(self) -> list[str]:
        # IPython shows these lines in place of a traceback.
        return [f"Please look at this: {self}"]
