"""Files written whole or not at all."""

from __future__ import annotations

import contextlib
import csv
import ctypes
import errno
import hashlib
import io
import json
import math
import os
import secrets
import shutil
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any, Final

from linewright.errors import LinewrightError
from linewright.tables import Table

Content = bytes | Callable[[], bytes]

# Lists what a folder of this program holds; a folder without it was made by someone else and is left alone.
CONTENTS: Final = "contents.json"

_AT_FDCWD: Final = -100
_RENAME_EXCHANGE: Final = 2


class WriteError(LinewrightError):
    """A file or a folder that cannot be written as asked. What stood there before still stands there."""


def write_folder(
    out: str | os.PathLike[str], files: Mapping[str, Content], record: Mapping[str, Any] | None = None
) -> Path:
    """Write a folder of files, whole or not at all.

    Everything goes into a new folder beside the wanted one, which is then moved into place. A folder that this function
    wrote earlier is replaced whole, whatever it holds; an empty one is filled. If anything goes wrong on the way, the
    former folder stands as it stood.

    Parameters
    ----------
    out : the wanted folder; its parents are made
    files : file name -> bytes, or a function without arguments that gives them
    record : what its list of contents says beside the files and their hashes

    Returns
    -------
    Path   The folder, links resolved.

    Raises
    ------
    WriteError   ``out`` is a file or a folder of someone else, or the disk refuses.
    """
    target = check_folder(out)
    fresh = target.parent / f".{target.name}.new-{secrets.token_hex(4)}"
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        fresh.mkdir()
        try:
            _fill(fresh, files, record or {})
            _move_in(fresh, target)
        finally:
            # What is left under this name is the half-written folder or, after the exchange, the former one.
            shutil.rmtree(fresh, ignore_errors=True)
    except OSError as problem:
        raise WriteError(f"cannot write the folder {out}: {_reason(problem)}") from problem
    return target


def check_folder(out: str | os.PathLike[str]) -> Path:
    """Tell before any work is done whether a folder may be written there.

    Parameters
    ----------
    out : the wanted folder

    Returns
    -------
    Path   The folder, links resolved.

    Raises
    ------
    WriteError   ``out`` is a file, a folder that holds what this program did not write, or not writable.
    """
    try:
        target = Path(out).resolve()
        if target.exists():
            _check_ours(target, out)
        above = next(parent for parent in target.parents if parent.exists())
        if not above.is_dir():
            raise WriteError(f"cannot write the folder {out}: {above} is a file; name a place in a folder")
        if not os.access(above, os.W_OK | os.X_OK):
            raise WriteError(f"cannot write the folder {out}: no permission to write in {above}")
    except (OSError, ValueError, StopIteration) as problem:
        raise WriteError(f"cannot write the folder {out}: {_reason(problem)}") from problem
    return target


def former_files(out: str | os.PathLike[str], files: Iterable[str]) -> tuple[str, ...]:
    """Names of what stands in a folder of this program and would stand there no more once it is written anew.

    Parameters
    ----------
    out : the wanted folder, which may not be there yet
    files : names of what is to be written
    """
    target = Path(out)
    held = {entry.name for entry in target.iterdir()} if target.is_dir() else set()
    return tuple(sorted(held - set(files) - {CONTENTS}))


def write_new_file(path: str | os.PathLike[str], text: str) -> Path:
    """Write a text file in UTF-8 that does not exist yet, whole or not at all.

    Raises
    ------
    WriteError   Something stands there already, or the disk refuses.
    """
    target = Path(path)
    taken = WriteError(f"{path} exists already and is not overwritten; name another file or remove it")
    half = target.parent / f".{target.name}.new-{secrets.token_hex(4)}"
    try:
        if target.exists() or target.is_symlink():
            raise taken
        half.write_bytes(text.encode("utf-8"))
        try:
            _place_new(half, target)
        finally:
            half.unlink(missing_ok=True)
    except FileExistsError as problem:
        raise taken from problem
    except (OSError, ValueError) as problem:
        raise WriteError(f"cannot write {path}: {_reason(problem)}") from problem
    return target


def csv_bytes(table: Table) -> bytes:
    """A table as CSV after RFC 4180: UTF-8, a header of column names, lines ended by CR LF, numbers with every digit.

    What is not a number becomes an empty field.

    Examples
    --------
    >>> import numpy as np
    >>> from linewright.tables import Column
    >>> csv_bytes(Table((Column("step", None, np.array(["a,b"])), Column("time_s", "s", np.array([1.5])))))
    b'step,time_s\\r\\n"a,b",1.5\\r\\n'
    """
    return rows_csv_bytes(table.names, [tuple(row.values()) for row in table.rows()])


def rows_csv_bytes(header: tuple[str, ...], rows: list[tuple[Any, ...]]) -> bytes:
    """Rows as CSV, as ``csv_bytes`` writes them. Raises ValueError for a row that is not as long as the header."""
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(header)
    for row in rows:
        if len(row) != len(header):
            raise ValueError(f"a row of {len(row)} fields under a header of {len(header)}")
        writer.writerow(["" if value is None or _not_a_number(value) else value for value in row])
    return text.getvalue().encode("utf-8")


def json_text(value: Any, ascii_only: bool = False) -> str:
    """A value as JSON: keys in the order given, two spaces, what is not a number as null, a newline at the end.

    Examples
    --------
    >>> json_text({"low": float("nan")})
    '{\\n  "low": null\\n}\\n'
    """
    return json.dumps(_plain(value), indent=2, ensure_ascii=ascii_only, allow_nan=False) + "\n"


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    return None if _not_a_number(value) else value


def _not_a_number(value: Any) -> bool:
    return isinstance(value, float) and not math.isfinite(value)


def _fill(folder: Path, files: Mapping[str, Content], facts: Mapping[str, Any]) -> None:
    listed = {}
    for name, content in files.items():
        data = content() if callable(content) else content
        with (folder / name).open("xb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        listed[name] = hashlib.sha256(data).hexdigest()
    record = {"written_by": "linewright", **facts, "sha256": listed}
    (folder / CONTENTS).write_bytes(json_text(record).encode("utf-8"))


def _check_ours(target: Path, out: str | os.PathLike[str]) -> None:
    if not target.is_dir():
        raise WriteError(f"cannot write the folder {out}: it is a file; name a folder")
    if not os.access(target, os.W_OK | os.X_OK):
        raise WriteError(f"cannot write the folder {out}: no permission to write in it")
    held = {entry.name for entry in target.iterdir()}
    if not held:
        return
    advice = "name a new folder or an empty one"
    try:
        record = json.loads((target / CONTENTS).read_bytes())
        listed = set(record["sha256"]) if record["written_by"] == "linewright" else None
    except (OSError, ValueError, KeyError, TypeError):
        listed = None
    if listed is None:
        raise WriteError(f"cannot write the folder {out}: it holds files that Linewright did not write; {advice}")
    foreign = sorted(held - listed - {CONTENTS})
    if foreign:
        raise WriteError(
            f"cannot write the folder {out}: it holds {foreign[0]!r}, which Linewright did not write; {advice}"
        )


def _move_in(fresh: Path, target: Path) -> None:
    if not target.exists():
        fresh.rename(target)
        return
    if _exchange(fresh, target):
        return
    # Without an exchange in one step neither stands there for an instant; on failure the former one comes back.
    former = target.parent / f".{target.name}.old-{secrets.token_hex(4)}"
    target.rename(former)
    try:
        fresh.rename(target)
    except BaseException:
        former.rename(target)
        raise
    shutil.rmtree(former, ignore_errors=True)


def _exchange(one: Path, other: Path) -> bool:
    """Exchange two folders in one step of the system (Linux, renameat2); False where the system cannot."""
    try:
        rename = ctypes.CDLL(None, use_errno=True).renameat2
    except (AttributeError, OSError, TypeError):
        return False
    return bool(rename(_AT_FDCWD, os.fsencode(one), _AT_FDCWD, os.fsencode(other), _RENAME_EXCHANGE) == 0)


def _place_new(half: Path, target: Path) -> None:
    """Give a written file its name, never over another: a hard link fails where something stands."""
    try:
        os.link(half, target)
    except OSError as problem:
        if problem.errno not in (errno.EPERM, errno.ENOTSUP, errno.ENOSYS, errno.EMLINK):
            raise
        with contextlib.ExitStack() as undo, target.open("xb") as file:
            undo.callback(target.unlink, missing_ok=True)
            file.write(half.read_bytes())
            undo.pop_all()


def _reason(problem: BaseException) -> str:
    return (problem.strerror if isinstance(problem, OSError) else None) or str(problem) or "the name is not usable"
