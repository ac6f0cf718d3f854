"""How far long work has come: a bar on stderr, and only where a person watches."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager

from rich.console import Console
from rich.progress import BarColumn, Progress, TaskProgressColumn, TextColumn, TimeElapsedColumn


@contextmanager
def told() -> Iterator[Callable[[str, float], None] | None]:
    """Yields what the work may call with a step in words and the share done (0 to 1); None without a terminal."""
    console = Console(stderr=True)
    if not console.is_terminal:
        yield None
        return
    columns = (TextColumn("{task.description}", markup=False), BarColumn(), TaskProgressColumn(), TimeElapsedColumn())
    with Progress(*columns, console=console, transient=True) as bar:
        task = bar.add_task("starting", total=1.0)
        yield lambda step, share: bar.update(task, description=step, completed=share)
