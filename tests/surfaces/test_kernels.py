"""The compiled loops keep their cache when the installation cannot be written to."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

MODULE = '''
"""A kernel of its own, so that the test compiles only a line."""
from terrain.surfaces._kernels import compiled


@compiled("int64(int64)")
def twice(number):
    return 2 * number


def report():
    print(twice(21), twice.stats.cache_path, sum(twice.stats.cache_hits.values()))
'''


def run(folder: Path, user_cache: Path, **more: str) -> tuple[int, str, int]:
    """Result, cache folder and cache hits of a new process."""
    plain = {k: v for k, v in os.environ.items() if k != "NUMBA_CACHE_DIR"}
    environment = plain | {"XDG_CACHE_HOME": str(user_cache), "HOME": str(user_cache)} | more
    code = f"import sys; sys.path.insert(0, {str(folder)!r}); import tiny; tiny.report()"
    done = subprocess.run(
        [sys.executable, "-c", code], env=environment, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    result, path, hits = done.stdout.split()
    return int(result), path, int(hits)


@pytest.fixture
def sealed(tmp_path):
    """A folder with the module in which no ``__pycache__`` can be made (not even by root)."""
    folder = tmp_path / "sealed"
    folder.mkdir()
    (folder / "tiny.py").write_text(MODULE)
    (folder / "__pycache__").write_text("in the way")
    return folder


def test_a_sealed_installation_caches_for_the_user(sealed, tmp_path):
    user_cache = tmp_path / "user"
    user_cache.mkdir()
    first = run(sealed, user_cache)
    again = run(sealed, user_cache)
    assert first[0] == again[0] == 42
    assert first[1].startswith(str(user_cache))
    assert (first[2], again[2]) == (0, 1)


def test_a_named_folder_comes_first(sealed, tmp_path):
    named = tmp_path / "named"
    user_cache = tmp_path / "user"
    user_cache.mkdir()
    run(sealed, user_cache, NUMBA_CACHE_DIR=str(named))
    result, path, hits = run(sealed, user_cache, NUMBA_CACHE_DIR=str(named))
    assert (result, hits) == (42, 1)
    assert path.startswith(str(named))


def test_nowhere_to_write_still_computes(sealed, tmp_path):
    blocked = tmp_path / "blocked"
    blocked.write_text("a file, not a folder")
    assert run(sealed, blocked)[0] == 42


def test_the_shipped_kernels_are_cached_and_have_one_type_each():
    from terrain.surfaces import _kernels

    for name in ("flood", "steepest", "accumulate", "stream_level", "label_depressions", "spread"):
        kernel = getattr(_kernels, name)
        assert len(kernel.signatures) == 1, name
    with pytest.raises(TypeError, match="No matching definition"):
        _kernels.flood(np.zeros((3, 3)))  # float64: refused, not compiled once more
