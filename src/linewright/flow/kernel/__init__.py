"""The event kernel, compiled by numba.

Numba stamps a compiled function by the file it stands in, so an edited helper in another file would silently keep the
old machine code. Therefore the compiled code goes into a folder named by a hash of all sources that are compiled in:
this folder's, those of the general loop inside it, and the rule core's. NUMBA_CACHE_DIR, if set, is where that folder
is made; otherwise the user's cache folder, or a temporary one where that cannot be written. A function takes its place
when its module is imported, so both loops are imported here.
"""

from __future__ import annotations

import hashlib
import os
import sys
import tempfile
from pathlib import Path

import numba


def _source_hash() -> str:
    here = Path(__file__).parent
    rooms = here.parent.parent
    traffic = [rooms / "traffic" / name for name in ("rules.py", "plan.py", "general.py")]
    sources = [*sorted(here.rglob("*.py")), *traffic]
    digest = hashlib.sha256(f"{numba.__version__} {sys.version}".encode())
    for source in sources:
        digest.update(source.read_bytes())
    return digest.hexdigest()[:16]


def _cache_folder() -> str:
    named = os.environ.get("NUMBA_CACHE_DIR")
    home = os.environ.get("XDG_CACHE_HOME")
    bases = [Path(named)] if named else [Path(home) if home else Path("~/.cache"), Path(tempfile.gettempdir())]
    for base in bases:
        folder = base.expanduser() / "linewright" / _source_hash()
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except (OSError, RuntimeError):
            continue
        if os.access(folder, os.W_OK):
            return str(folder)
    return tempfile.mkdtemp(prefix="linewright-")


_before = numba.config.CACHE_DIR
numba.config.CACHE_DIR = _cache_folder()
try:
    from linewright.flow.kernel import run as run
    from linewright.flow.kernel.general import run as _general_run  # noqa: F401
finally:
    numba.config.CACHE_DIR = _before
