"""No file, however broken or ill-meant, does more than cause one InputError."""

from __future__ import annotations

import os
import random
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from boxwright.errors import InputError
from boxwright.files import load_brief, load_design, loads_design
from boxwright.files.reading import LARGEST, read_text

HEAD = b'format = "boxwright-design/1"\n'


def refused(path: Path | str, seconds: float = 5.0) -> str:
    begin = time.monotonic()
    for read in (load_design, load_brief):
        with pytest.raises(InputError) as caught:
            read(path)
        assert caught.value.exit_code == 2
        assert "\n" not in str(caught.value)
        assert len(str(caught.value)) < 700
    assert time.monotonic() - begin < seconds
    return str(caught.value)


@pytest.mark.parametrize(
    ("content", "found"),
    [
        (b"", "got none"),
        (random.Random(1).randbytes(5000) + b"\xff", "UTF-8"),
        (b"\x7fELF\x02\x01\x01\x00", "NUL"),
        (HEAD + b'name = "a\x00b"', "NUL character"),
        (HEAD + b'name = "\xe9"', "UTF-8 text, got byte 0xe9"),
        (b"\xef\xbb\xbf" + HEAD, "byte-order mark"),
        ("\ufeffformat = 1".encode("utf-16-le"), "byte-order mark"),
        (HEAD + b"name = " + b"[" * 20_000, "hundreds deep"),
        (HEAD + b"name = " + b"[" * 20_000 + b"]" * 20_000, "hundreds deep"),
        (HEAD + b"name = " + b"{a=" * 20_000, "hundreds deep"),
        (HEAD + b"name = " + b"[" * 300 + b"]" * 300, ""),
        (HEAD + b"a." * 400_000 + b"b = 1", "100 parts"),
        (HEAD + b"[" + b"a." * 400_000 + b"b]", "100 parts"),
        (HEAD + b"[a]\n" * 2, "twice"),
        (HEAD + b"name = 1\nname = 2", "a key is given twice"),
        (HEAD + b"name = " + b"9" * 900_000, "4300 digits"),
        (HEAD + b"name = 0x" + b"f" * 900_000, ""),
        (HEAD + b"name = " + b"9" * 900_000 + b".0", ""),
        (HEAD + b'name = "' + b"x" * 900_000 + b'"', ""),
        (HEAD + b"[[opening]]\n" * 70_000, ""),
        (HEAD + b"".join(b"k%d = 1\n" % number for number in range(60_000)), ""),
        (HEAD + b"chamber = [" + b"{}," * 300_000 + b"]", ""),
        (HEAD + b"opening = [" + b"1," * 450_000 + b"]", ""),
        (HEAD + b"name = 6,5", "decimal point"),
        (HEAD + b"name = 18 L", "between quotes"),
        (HEAD + "nаme = 1".encode(), "CYRILLIC"),
        (HEAD + b"name = \x1b[31m", ""),
        (b"#" * 900_000, "got none"),
        (b"\n" * 900_000, "got none"),
    ],
    ids=lambda value: repr(value[:40]) if isinstance(value, bytes) else "",
)
def test_a_broken_file_is_refused(content: bytes, found: str, tmp_path: Path) -> None:
    path = tmp_path / "it.toml"
    path.write_bytes(content)
    message = refused(path, 20.0)
    if found:
        with pytest.raises(InputError, match=found):
            load_design(path)
    assert message.isprintable()


def test_a_file_over_the_cap_is_refused_unread(tmp_path: Path) -> None:
    path = tmp_path / "big.toml"
    with path.open("wb") as file:
        file.truncate(100_000_000)
    assert "at most 1 MB, got 100 MB" in refused(path, 0.5)


def test_a_file_at_the_cap_is_read(tmp_path: Path) -> None:
    path = tmp_path / "full.toml"
    path.write_bytes(HEAD + b"#" * (LARGEST - len(HEAD)))
    assert len(read_text(path)) == LARGEST
    path.write_bytes(HEAD + b"#" * (LARGEST + 1 - len(HEAD)))
    assert "at most 1 MB" in refused(path)


def test_what_is_not_a_file_is_refused(tmp_path: Path) -> None:
    assert "found none" in refused(tmp_path / "missing.toml")
    assert "got a folder" in refused(tmp_path)
    assert "ordinary file" in refused("/dev/null")
    assert "ordinary file" in refused("/dev/zero")
    assert "usable" in refused("a\0b")
    assert "usable" in refused("a\ud800b")
    assert "could not be read" in refused("x" * 5000)
    assert "found none" in refused("-")
    ring = tmp_path / "ring"
    ring.symlink_to(ring)
    assert "could not be read" in refused(ring)


def test_a_pipe_does_not_hang(tmp_path: Path) -> None:
    path = tmp_path / "pipe"
    os.mkfifo(path)
    assert "ordinary file" in refused(path, 0.5)


def test_a_file_without_permission_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "closed.toml"
    path.write_bytes(HEAD)
    path.chmod(0)

    def denied(*_: object, **__: object) -> int:  # root may read anything, so the system's answer is played
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("boxwright.files.reading.os.open", denied)
    assert "no permission" in refused(path)


def test_a_name_cannot_disturb_the_terminal(tmp_path: Path) -> None:
    path = tmp_path / "a\x1b[31m\n.toml"
    path.write_bytes(HEAD + b"zzz = 1")
    assert "\x1b" not in refused(path)


def test_deep_nesting_is_refused_from_deep_inside_a_program() -> None:
    def deep(level: int, call: Callable[[], None]) -> None:
        if level:
            deep(level - 1, call)
        else:
            call()

    def read() -> None:
        with pytest.raises(InputError):
            loads_design('format = "boxwright-design/1"\nname = ' + "[" * 200 + "]" * 200)

    deep(500, read)


def test_a_usual_file_loads_quickly() -> None:
    folder = Path(__file__).parents[3] / "examples"
    files = sorted(folder.glob("*.toml"))
    assert files
    for path in files:
        text = path.read_text(encoding="utf-8")
        if "boxwright-design" not in text:
            continue
        times = []
        for _ in range(3):
            begin = time.perf_counter()
            loads_design(text)
            times.append(time.perf_counter() - begin)
        assert min(times) < 0.03
