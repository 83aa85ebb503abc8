"""Cells that a spreadsheet would run as formulas: made harmless on the way out, and what they were on the way in.

A text that begins with a character by which spreadsheets know a formula gets an apostrophe before it, which they show
as text. One that begins with apostrophes and then such a character gets one more, so that every text comes back as it
was. The characters are those of common advice on CSV injection; their full-width forms are taken too.
"""

from __future__ import annotations

import re

_RUNS = re.compile(r"'*[=+\-@\t\r\n|%＝＋－＠]")
_NEUTRALISED = re.compile(r"'+[=+\-@\t\r\n|%＝＋－＠]")


def neutralised(text: str) -> str:
    """The text as a cell that no spreadsheet runs."""
    return "'" + text if _RUNS.match(text) else text


def restored(text: str) -> str:
    """What `neutralised` was given."""
    return text[1:] if text[:1] == "'" and _NEUTRALISED.match(text) else text
