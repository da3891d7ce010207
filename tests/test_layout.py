"""The arrows between the parts point one way, and the domain reaches for nothing outside it."""

import ast
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
DOMAIN = (
    "names", "regulation", "geography", "fit", "escape", "containment", "substitutes", "cautions",
)  # fmt: skip

LEVELS = (
    ("errors", "values"),
    DOMAIN,
    ("store",),
    ("checks",),
    ("input", "output"),
    ("api", "cli"),
)
"""Parts of ``service`` from the values that all share to the edges. Each may use what is below it
and, but for the edges and for input, what is beside it.
"""

SETTINGS = ("deadline", "logs", "settings", "shared")
"""Parts that belong to the process and not to an answer: nothing of the domain may use them."""


@dataclass(frozen=True)
class Import:
    """``module`` imported in ``user``; ``late`` inside a function."""

    user: str
    module: str
    line: int
    late: bool

    def __str__(self) -> str:
        return f"{self.user}:{self.line} imports {self.module}"


def imports(package: str) -> Iterator[Import]:
    """Every import of a package's files, wherever in the file, for types alone or not."""
    for path in sorted((ROOT / package).rglob("*.py")):
        user = ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
        tree = ast.parse(path.read_text(encoding="utf-8"))
        tree.body = [node for node in tree.body if not _runs_as_command(node)]
        late = {
            node
            for function in ast.walk(tree)
            if isinstance(function, ast.FunctionDef | ast.AsyncFunctionDef)
            for node in ast.walk(function)
        }
        for node in ast.walk(tree):
            if isinstance(node, ast.Import):
                for name in node.names:
                    yield Import(user, name.name, node.lineno, node in late)
            elif isinstance(node, ast.ImportFrom):
                assert node.level == 0, f"{user}:{node.lineno} imports by dots"
                yield Import(user, node.module or "", node.lineno, node in late)
                for name in node.names:
                    if _is_module(f"{node.module}.{name.name}"):
                        yield Import(user, f"{node.module}.{name.name}", node.lineno, node in late)


def _runs_as_command(node: ast.stmt) -> bool:
    """``if __name__ == "__main__"``: what a file does as a command is an edge of its own."""
    return isinstance(node, ast.If) and "__main__" in ast.unparse(node.test)


def _is_module(name: str) -> bool:
    path = ROOT.joinpath(*name.split("."))
    return path.is_dir() or path.with_suffix(".py").is_file()


SERVICE = tuple(imports("service"))
LOADERS = tuple(imports("data_loaders"))


def part(module: str) -> str:
    """``checks`` of ``service.checks.plan.check``; empty for what is not of the service."""
    names = module.split(".")
    return names[1] if names[0] == "service" and len(names) > 1 else ""


def level(name: str) -> int | None:
    return next((number for number, parts in enumerate(LEVELS) if name in parts), None)


def test_every_part_of_the_service_has_its_place() -> None:
    parts = {part(found.user) for found in SERVICE} - {""}
    placed = {name for parts in LEVELS for name in parts} | set(SETTINGS)
    assert parts <= placed


def test_no_arrow_points_up() -> None:
    wrong = []
    for found in SERVICE:
        user, used = level(part(found.user)), level(part(found.module))
        if user is not None and used is not None and used > user:
            wrong.append(str(found))
    assert not wrong


@pytest.mark.parametrize(
    ("user", "never"),
    [
        ("checks", ("input", "output", "api", "cli")),
        ("input", ("output", "api", "cli")),
        ("cli", ("api",)),
        *((name, ("store", *SETTINGS)) for name in DOMAIN),
    ],
)
def test_a_part_never_uses(user: str, never: tuple[str, ...]) -> None:
    assert not [
        str(found) for found in SERVICE if part(found.user) == user and part(found.module) in never
    ]


@pytest.mark.parametrize("edge", ["api", "cli"])
def test_nothing_imports_an_edge(edge: str) -> None:
    assert not [
        str(found)
        for found in (*SERVICE, *LOADERS)
        if part(found.module) == edge and part(found.user) != edge
    ]


def test_the_service_uses_the_loaders_from_commands_and_loads_alone() -> None:
    users = {found.user for found in SERVICE if found.module.startswith("data_loaders")}
    assert all(part(user) in ("api", "cli") for user in users), sorted(users)


BEYOND_THE_DOMAIN = (
    "asyncio", "duckdb", "fastapi", "httpx", "io", "openpyxl", "os", "pathlib", "shutil", "socket",
    "sqlite3", "sqlite_utils", "starlette", "subprocess", "tempfile", "uvicorn",
)  # fmt: skip


def test_the_domain_knows_nothing_of_http_sql_or_files() -> None:
    wrong = [
        str(found)
        for found in SERVICE
        if part(found.user) in (*DOMAIN, "values")
        and found.module.split(".")[0] in BEYOND_THE_DOMAIN
    ]
    assert not wrong


def test_the_domain_opens_no_file_but_those_that_come_with_it() -> None:
    wrong = []
    for name in (*DOMAIN, "values"):
        for path in sorted((ROOT / "service" / name).rglob("*.py")):
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if isinstance(node, ast.Call) and ast.unparse(node.func) == "open":
                    wrong.append(f"{path.name}:{node.lineno}")
    assert not wrong


def cycles(graph: dict[str, set[str]]) -> list[list[str]]:
    """Groups of nodes that all reach one another (Tarjan's strongly connected components)."""
    order: dict[str, int] = {}
    lowest: dict[str, int] = {}
    stack: list[str] = []
    found: list[list[str]] = []

    def visit(node: str) -> None:
        order[node] = lowest[node] = len(order)
        stack.append(node)
        for target in sorted(graph.get(node, ())):
            if target not in order:
                visit(target)
                lowest[node] = min(lowest[node], lowest[target])
            elif target in stack:
                lowest[node] = min(lowest[node], order[target])
        if lowest[node] == order[node]:
            group = stack[stack.index(node) :]
            del stack[stack.index(node) :]
            if len(group) > 1:
                found.append(sorted(group))

    sys.setrecursionlimit(max(sys.getrecursionlimit(), 10_000))
    for node in sorted(graph):
        if node not in order:
            visit(node)
    return found


def test_a_cycle_is_found() -> None:
    assert cycles({"a": {"b"}, "b": {"c"}, "c": {"a", "d"}, "d": set()}) == [["a", "b", "c"]]


@pytest.mark.parametrize("depth", [2, 99])
def test_there_is_no_cycle_of_parts_or_of_modules(depth: int) -> None:
    """Imports inside a function count too: they hide no circle."""
    graph: dict[str, set[str]] = {}
    for found in (*SERVICE, *LOADERS):
        if not found.module.startswith(("service.", "data_loaders.")):
            continue
        user = ".".join(found.user.split(".")[:depth])
        used = ".".join(found.module.split(".")[:depth])
        if user != used and not user.startswith(f"{used}.") and not used.startswith(f"{user}."):
            graph.setdefault(user, set()).add(used)
    assert not cycles(graph)
