"""Figures of the house, of this tree or of another: python -m tests.house_figures [TREE]

What is counted, for files of annotate/ and service/: modules and their lines, code without blanks, comments and
docstrings, long functions, functions of many parameters, records that can be filled by position, `fmt: skip`.
Circles, arrows back up, types and format have tests and commands of their own: tests/test_architecture.py,
`python -m tests.check_types`, `ruff format --check`.
"""

from __future__ import annotations

import ast
import statistics
import sys
from collections.abc import Iterator
from pathlib import Path

LONG_LINES, MANY_PARAMETERS, SMALL_RECORD = 60, 6, 4
Function = ast.FunctionDef | ast.AsyncFunctionDef


def functions(tree: ast.AST) -> Iterator[Function]:
    yield from (n for n in ast.walk(tree) if isinstance(n, Function))


def parameters(function: Function) -> int:
    a = function.args
    names = [x.arg for x in (*a.posonlyargs, *a.args, *a.kwonlyargs)]
    return len([n for n in names if n not in ("self", "cls")]) + bool(a.vararg) + bool(a.kwarg)


def positional_record(node: ast.ClassDef) -> bool:
    """A dataclass of more than a few fields that can be filled by position."""
    for decorator in node.decorator_list:
        name = decorator.func if isinstance(decorator, ast.Call) else decorator
        if getattr(name, "id", getattr(name, "attr", "")) != "dataclass":
            continue
        told = {k.arg for k in decorator.keywords} if isinstance(decorator, ast.Call) else set()
        fields = [x for x in node.body if isinstance(x, ast.AnnAssign) and "ClassVar" not in ast.unparse(x.annotation)]
        return "kw_only" not in told and len(fields) > SMALL_RECORD
    return False


def code_lines(text: str, tree: ast.AST) -> int:
    """Lines that are neither blank nor comment nor docstring."""
    docs: set[int] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Module | ast.ClassDef | Function) and ast.get_docstring(node, clean=False) is not None:
            docs |= set(range(node.body[0].lineno, (node.body[0].end_lineno or 0) + 1))
    lines = enumerate(text.splitlines(), 1)
    return sum(bool(s := line.strip()) and not s.startswith("#") and at not in docs for at, line in lines)


def figures(root: Path) -> dict[str, object]:
    files = [p for room in ("annotate", "service") for p in sorted((root / room).rglob("*.py"))]
    texts = {p: p.read_text(encoding="utf-8") for p in files}
    trees = {p: ast.parse(t) for p, t in texts.items()}
    lengths = [len(t.splitlines()) for t in texts.values()]
    made = [f for t in trees.values() for f in functions(t)]
    records = [n for t in trees.values() for n in ast.walk(t) if isinstance(n, ast.ClassDef) and positional_record(n)]
    return {
        "modules": len(files),
        "lines": sum(lengths),
        "lines of code alone": sum(code_lines(texts[p], trees[p]) for p in files),
        "mean, median, longest module": (
            round(statistics.mean(lengths)),
            round(statistics.median(lengths)),
            max(lengths),
        ),
        f"functions above {LONG_LINES} lines": sum((f.end_lineno or 0) - f.lineno + 1 > LONG_LINES for f in made),
        f"functions of more than {MANY_PARAMETERS} parameters": sum(parameters(f) > MANY_PARAMETERS for f in made),
        f"records of more than {SMALL_RECORD} fields filled by position": len(records),
        "fmt: skip": sum(t.count("# fmt: skip") for t in texts.values()),
    }


if __name__ == "__main__":
    here = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).resolve().parents[1]
    for what, value in figures(here).items():
        print(f"{value!s:>16}  {what}")
