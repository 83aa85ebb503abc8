"""The house rules that a reader relies on: short files, short functions, a fixed top level, clean locks."""

from __future__ import annotations

import ast
import re
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
TOP_LEVEL = {
    "README.md", "DEVELOPERS.md", "pyproject.toml", "planner", "api", "tests", "seed_data",
    "openapi_examples", "LICENSE", "Makefile", "requirements.lock",
}  # fmt: skip
MAX_FILE_LINES = 300
MAX_BODY_LINES = 40


def tracked(pattern: str = "*") -> list[Path]:
    listing = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard", pattern],
        cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip
    if listing.returncode:
        pytest.skip("not a git checkout: the tree's own list of files is not to be had")
    return [ROOT / line for line in listing.stdout.splitlines() if (ROOT / line).is_file()]


def product_files() -> list[Path]:
    return [p for p in tracked("*.py") if p.relative_to(ROOT).parts[0] in {"planner", "api"}]


def body_lines(node: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    body = node.body[1:] if ast.get_docstring(node) is not None else node.body
    return body[-1].end_lineno - body[0].lineno + 1 if body else 0


def test_top_level_holds_only_what_the_design_names():
    names = {p.relative_to(ROOT).parts[0] for p in tracked()}
    assert {n for n in names if not n.startswith(".")} <= TOP_LEVEL


def test_no_python_file_is_longer_than_the_house_allows():
    long = {str(p.relative_to(ROOT)): n for p in tracked("*.py")
            if (n := len(p.read_text().splitlines())) > MAX_FILE_LINES}  # fmt: skip
    assert not long


def test_no_function_of_the_product_has_a_long_body():
    long = [
        f"{path.relative_to(ROOT)}:{node.lineno} {node.name} {body_lines(node)}"
        for path in product_files()
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef) and body_lines(node) > MAX_BODY_LINES
    ]
    assert not long


def test_every_product_file_says_its_duty_in_its_first_line():
    silent = [str(p.relative_to(ROOT)) for p in product_files()
              if p.read_text().strip() and not (ast.get_docstring(ast.parse(p.read_text())) or "").strip()]  # fmt: skip
    assert not silent


@pytest.mark.parametrize("lock", ["requirements.lock", "tests/requirements.lock"])
def test_locks_pin_every_package_by_hash_and_name_no_address(lock):
    text = (ROOT / lock).read_text()
    assert not re.search(r"https?://|--(extra-)?index-url|file:", text)
    entries = re.split(r"\n(?=\S)", text.strip())
    assert entries
    assert all("==" in e and "--hash=sha256:" in e for e in entries)


def test_both_locks_agree_on_every_shared_package():
    def pins(lock):
        lines = (ROOT / lock).read_text().splitlines()
        return {re.sub(r"\s*\\$", "", line) for line in lines if "==" in line}

    assert pins("requirements.lock") <= pins("tests/requirements.lock")
