"""Small matrices on one thread: many threads make them twenty times slower, not faster."""

from __future__ import annotations

from contextlib import AbstractContextManager
from functools import cache
from typing import Any


@cache
def _controller() -> Any:
    from threadpoolctl import ThreadpoolController

    return ThreadpoolController()


def one_thread() -> AbstractContextManager[Any]:
    """While this lasts, numpy's linear algebra uses one thread (in the whole process)."""
    limit: AbstractContextManager[Any] = _controller().limit(limits=1, user_api="blas")
    return limit
