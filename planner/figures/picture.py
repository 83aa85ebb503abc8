"""A picture that is drawn when it is asked for: title, text alternative, SVG and PNG."""

from __future__ import annotations

import io
import threading
import unicodedata
import warnings
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from planner.figures import look
from planner.figures.svg import tidy

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Draw = Callable[["Axes", bool], None]
"""Called with empty axes and whether the picture is narrow."""

Height = Callable[[bool], float]
"""Height in inches, by whether the picture is narrow."""

_one_at_a_time = threading.Lock()
"""matplotlib's settings are of the whole process, so pictures are drawn in turn."""


@dataclass(frozen=True)
class Picture:
    """A picture of data.

    Attributes:
        title: what it shows, short.
        text: the same in words, for those who can't see it.
    """

    title: str
    text: str
    _draw: Draw = field(repr=False, compare=False)
    _height: Height = field(repr=False, compare=False)

    def svg(self, *, narrow: bool = False) -> str:
        """The picture as SVG text with title and description in it; no script, no style rules, no link to elsewhere.

        Args:
            narrow: for a telephone held upright.
        """
        with _one_at_a_time, look.settings(), warnings.catch_warnings():
            warnings.simplefilter(
                "ignore", UserWarning
            )  # letters that the measuring font lacks are drawn elsewhere
            figure = self._figure(narrow=narrow)
            out = io.StringIO()
            figure.savefig(out, format="svg", metadata={"Date": None, "Creator": None})
        return tidy(out.getvalue(), title=self.title, text=self.text)

    def png(self, *, dots_per_inch: int = 144, narrow: bool = False) -> bytes:
        """The picture as PNG, for mail; give ``text`` beside it."""
        with _one_at_a_time, look.settings(), warnings.catch_warnings():
            warnings.simplefilter("ignore", UserWarning)  # as above
            figure = self._figure(narrow=narrow)
            out = io.BytesIO()
            figure.savefig(out, format="png", dpi=dots_per_inch, metadata={"Software": None})
        return out.getvalue()

    def _figure(self, *, narrow: bool) -> Figure:
        from matplotlib.figure import Figure  # noqa: PLC0415 - loaded only when needed

        width = look.NARROW_INCHES if narrow else look.WIDE_INCHES
        figure = Figure(figsize=(width, self._height(narrow)), layout="constrained")
        self._draw(figure.add_subplot(), narrow)
        return figure


def plain(text: str, most: int = 40) -> str:
    """A label that a picture can carry: no control or direction marks, one line, shortened."""
    kept = "".join(
        " " if c.isspace() else c for c in text if unicodedata.category(c)[0] != "C" or c.isspace()
    )
    line = " ".join(kept.split())
    return line if len(line) <= most else line[: most - 1].rstrip() + "…"
