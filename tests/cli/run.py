"""Run the real command in a process of its own."""

from __future__ import annotations

import os
import subprocess
import sys

__all__ = ["rutwise"]


def rutwise(*arguments, cwd=None, **environment) -> subprocess.CompletedProcess[str]:
    """Run ``rutwise`` with ``arguments``; never raises, check the return code."""
    return subprocess.run(
        [sys.executable, "-c", "from cli.app import main; main()", *map(str, arguments)],
        capture_output=True,
        text=True,
        encoding="utf-8",
        cwd=cwd,
        env={**os.environ, "COLUMNS": "100", **environment},
        stdin=subprocess.DEVNULL,
        check=False,
        timeout=300,
    )
