"""Files written whole or not at all: against the operating system itself."""

from __future__ import annotations

import os
import resource
import stat
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from boxwright.atomic import atomic_write
from boxwright.errors import InputError


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """A folder that every user can get into, unlike pytest's own."""
    with tempfile.TemporaryDirectory() as name:
        Path(name).chmod(0o755)
        yield Path(name)


def test_writes_and_replaces(tmp_path: Path) -> None:
    target = tmp_path / "a.toml"
    atomic_write(target, b"one")
    atomic_write(target, b"two\0\xff")
    assert target.read_bytes() == b"two\0\xff"
    assert [p.name for p in tmp_path.iterdir()] == ["a.toml"]


def test_new_file_has_the_mode_that_the_umask_asks_for(tmp_path: Path) -> None:
    old = os.umask(0o027)
    try:
        atomic_write(tmp_path / "a", b"")
    finally:
        os.umask(old)
    assert stat.S_IMODE((tmp_path / "a").stat().st_mode) == 0o640


def test_old_mode_is_kept(tmp_path: Path) -> None:
    target = tmp_path / "a"
    target.write_bytes(b"old")
    target.chmod(0o600)
    atomic_write(target, b"new")
    assert stat.S_IMODE(target.stat().st_mode) == 0o600


def test_link_stays_a_link(tmp_path: Path) -> None:
    (tmp_path / "real").write_bytes(b"old")
    (tmp_path / "link").symlink_to("real")
    atomic_write(tmp_path / "link", b"new")
    assert (tmp_path / "link").is_symlink()
    assert (tmp_path / "real").read_bytes() == b"new"


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("folder", "got a folder"),
        ("missing/a", "must exist"),
        ("file/a", "must be a folder"),
        ("nul\0name", "usable"),
        ("x" * 300, "could not be written"),
        ("pipe", "ordinary file"),
        ("ring", "usable"),
    ],
)
def test_unusable_targets(tmp_path: Path, name: str, words: str) -> None:
    (tmp_path / "folder").mkdir()
    (tmp_path / "file").write_bytes(b"old")
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "ring").symlink_to("ring")
    before = sorted(p.name for p in tmp_path.iterdir())
    with pytest.raises(InputError, match=words) as caught:
        atomic_write(f"{tmp_path}/{name}", b"new")
    assert caught.value.place
    assert sorted(p.name for p in tmp_path.iterdir()) == before
    assert (tmp_path / "file").read_bytes() == b"old"


def test_full_disk_keeps_the_old_file(tmp_path: Path) -> None:
    # A file-size limit makes the kernel refuse the write half-way, as a full disk does.
    target = tmp_path / "a"
    target.write_bytes(b"old")
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (10_000, hard))
    try:
        with pytest.raises(InputError, match="disk is full"):
            atomic_write(target, b"x" * 1_000_000)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert target.read_bytes() == b"old"
    assert [p.name for p in tmp_path.iterdir()] == ["a"]


@pytest.mark.parametrize("protect", ["folder", "file"])
def test_no_permission(open_folder: Path, protect: str) -> None:
    # In a process of its own that gives up root's rights first, if it has them.
    folder = open_folder / "locked"
    folder.mkdir()
    target = folder / "a"
    target.write_bytes(b"old")
    if protect == "folder":
        folder.chmod(0o555)
    else:
        folder.chmod(0o777)
        target.chmod(0o444)
    code = (
        "import os, sys\n"
        "from boxwright.atomic import atomic_write\n"
        "from boxwright.errors import InputError\n"
        "if os.getuid() == 0: os.setuid(65534)\n"
        "try:\n    atomic_write(sys.argv[1], b'new')\n"
        "except InputError as error: print(error)\n"
    )
    said = subprocess.run(
        [sys.executable, "-c", code, str(target)], capture_output=True, text=True, check=True
    ).stdout
    folder.chmod(0o755)
    assert "no permission" in said
    assert str(target) in said
    assert target.read_bytes() == b"old"
    assert [p.name for p in folder.iterdir()] == ["a"]
