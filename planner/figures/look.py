"""How our pictures look: few inks that differ in lightness, so that grey print and every eye can tell them apart."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from contextlib import AbstractContextManager

    from matplotlib.axes import Axes

WIDE_INCHES = 7.6
NARROW_INCHES = 3.4

INK = "#1d2b33"
MODEL = "#0f5563"
BAND = "#c3d8d9"
SEEN = "#b4531a"
SLACK = "#f0e2bd"
FAINT = "#6b7780"
RULE = "#dcd9cf"
PAPER = "#ffffff"

_SETTINGS: dict[str, Any] = {
    "svg.hashsalt": "wearwright",
    "svg.fonttype": "none",
    "font.family": "DejaVu Sans",
    "font.size": 9.0,
    "text.parse_math": False,
    "text.color": INK,
    "axes.edgecolor": INK,
    "axes.labelcolor": INK,
    "axes.facecolor": PAPER,
    "axes.linewidth": 0.8,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.axisbelow": True,
    "axes.unicode_minus": False,
    "figure.facecolor": PAPER,
    "grid.color": RULE,
    "grid.linewidth": 0.7,
    "xtick.color": INK,
    "ytick.color": INK,
    "hatch.linewidth": 0.6,
    "legend.frameon": False,
    "legend.fontsize": 8.5,
}


def settings() -> AbstractContextManager[None]:
    """Our settings while a picture is drawn; the process's own come back afterwards."""
    from matplotlib import rc_context, rcParamsDefault  # noqa: PLC0415 - loaded only when needed

    plain: dict[Any, Any] = {n: v for n, v in rcParamsDefault.items() if not n.startswith("backend")}
    ours: Any = {**plain, **_SETTINGS}
    return rc_context(ours)


def percent_axis(axes: Axes) -> None:
    """An upright axis from 0 to 100 %."""
    axes.set_ylim(0.0, 1.02)
    axes.set_yticks([0.0, 0.25, 0.5, 0.75, 1.0], ["0 %", "25 %", "50 %", "75 %", "100 %"])
    axes.grid(axis="y")


def distance_ticks(far: float, most: int) -> list[float]:
    """Round distances from 0 to ``far``, about ``most`` of them."""
    from matplotlib.ticker import MaxNLocator  # noqa: PLC0415 - loaded only when needed

    places = MaxNLocator(nbins=most, steps=[1, 2, 5, 10]).tick_values(0.0, far)
    return [float(place) for place in places if 0 <= place <= far]


def in_lines(text: str, *, narrow: bool) -> str:
    """A label in two lines before its bracket where the picture is narrow."""
    return text.replace(" (", "\n(", 1) if narrow else text


def key(axes: Axes, *, narrow: bool, columns: int = 3) -> None:
    """The key under the picture, where it hides nothing."""
    handles, labels = axes.get_legend_handles_labels()
    figure = axes.get_figure()
    if handles and figure is not None:
        figure.legend(
            handles, labels, loc="outside lower center", ncols=1 if narrow else min(columns, len(labels))
        )
