"""Stopped at any time, a full disk, a closed pipe, no permission: nothing half-written, nothing lost."""

from __future__ import annotations

import os
import signal
import stat
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from pathlib import Path

import pytest
from tests.support.boxes import BRIEF, passive_box
from tests.support.command import inside, outside

from boxwright import keeping
from boxwright.files import save_design

COMMAND = [sys.executable, "-m", "boxwright.cli"]
# Before the interpreter has come to our first line, a stop is its own business.
READY = (
    "import sys, boxwright.cli; sys.argv[0] = 'boxwright'; print('ready', flush=True); boxwright.cli.main()"
)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    save_design(passive_box(), tmp_path / "box.toml")
    (tmp_path / "brief.toml").write_text(BRIEF)
    return tmp_path


@pytest.fixture(scope="module", autouse=True)
def warm(tmp_path_factory: pytest.TempPathFactory) -> None:
    """Everything compiled and kept: the limits below are for results, not for the compiler's files."""
    assert outside("demo", tmp_path_factory.mktemp("warm") / "demo").returncode == 0


@pytest.fixture(scope="module")
def many(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A thousand drivers, each of its own."""
    path = tmp_path_factory.mktemp("many") / "many.csv"
    rows = "".join(f"driver,D {n},4,210 cm2,40 L,{20 + n / 100},4,0.4\n" for n in range(1000))
    path.write_text("part,name,re,sd,vas,fs,qms,qes\n" + rows)
    return path


def started(folder: Path, *words: str, command: Sequence[str] = COMMAND) -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        [*command, *words], cwd=folder, stdout=subprocess.PIPE, stderr=subprocess.PIPE, start_new_session=True,
        env={**os.environ, "BOXWRIGHT_STORE": str(folder / "s.sqlite3")},
    )  # fmt: skip


def limited(folder: Path, size: int, *words: str) -> subprocess.CompletedProcess[bytes]:
    """Run with no file allowed to grow beyond ``size``: the kernel refuses the rest, as a full disk does."""
    code = (
        "import resource, runpy, signal, sys\n"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
        f"resource.setrlimit(resource.RLIMIT_FSIZE, ({size}, {size}))\n"
        "sys.argv = ['boxwright', *sys.argv[1:]]\n"
        "runpy.run_module('boxwright.cli', run_name='__main__')\n"
    )
    env = {**os.environ, "BOXWRIGHT_STORE": str(folder / "s.sqlite3")}
    return subprocess.run(
        [sys.executable, "-c", code, *words],
        cwd=folder,
        capture_output=True,
        env=env,
        timeout=120,
        check=False,
    )


@pytest.mark.parametrize(
    ("words", "moments"),
    [
        (("report", "box.toml", "--to", "out.pdf"), (0.0, 0.3, 0.9)),
        (("shortlist", "brief.toml", "--save", "1", "--to", "out"), (0.05, 0.5)),
        (("demo", "out"), (0.3, 1.2)),
        (("parts", "import", "MANY"), (0.3, 0.8)),
    ],
)
def test_a_stop_at_any_time_is_clean(
    words: tuple[str, ...], moments: tuple[float, ...], folder: Path, many: Path
) -> None:
    words = tuple(str(many) if word == "MANY" else word for word in words)
    for moment in moments:
        process = started(folder, *words, command=(sys.executable, "-c", READY))
        assert process.stdout is not None
        assert process.stdout.readline() == b"ready\n"
        time.sleep(moment)
        process.send_signal(signal.SIGINT)
        out, err = process.communicate(timeout=60)
        assert b"Traceback" not in err
        left = {each.name for each in folder.iterdir()} - {"box.toml", "brief.toml", "s.sqlite3"}
        if process.returncode == 0:  # it was quicker
            continue
        assert process.returncode == 130
        assert out == b""
        assert left == set()
        assert inside("parts", "list", "--no-examples", store=folder / "s.sqlite3").stdout == ""


def test_a_stop_that_the_compiler_swallows_comes_again() -> None:
    """A stop that falls into a callback of the compiler reaches nobody: the hook for such losses repeats it."""
    code = (
        "import ctypes, time, sys\n"
        "from boxwright.cli.stopping import insist\n"
        "insist()\n"
        "@ctypes.CFUNCTYPE(None)\n"
        "def callback():\n    raise KeyboardInterrupt\n"
        "try:\n    callback()\n    time.sleep(20)\n"
        "except KeyboardInterrupt:\n    print('stopped')\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=15, check=True
    )
    assert done.stdout == "stopped\n"
    assert done.stderr == ""


def test_a_stop_while_files_are_written_waits_for_the_last(tmp_path: Path) -> None:
    from boxwright.cli.output import together

    def write() -> None:
        with together():
            os.kill(os.getpid(), signal.SIGINT)
            (tmp_path / "b").write_text("b")

    with pytest.raises(KeyboardInterrupt):
        write()
    assert (tmp_path / "b").read_text() == "b"


@pytest.mark.parametrize(
    ("words", "size"),
    [
        (("report", "box.toml", "--to", "out.pdf"), 20_000),
        (("shortlist", "brief.toml", "--save", "1", "--to", "out.toml"), 100),
        (("parts", "import", "MANY"), 100_000),
        (("parts", "export", "out.csv", "--examples"), 2_000),
    ],
)
def test_a_full_disk_is_one_line_and_leaves_nothing(
    words: tuple[str, ...], size: int, folder: Path, many: Path
) -> None:
    done = limited(folder, size, *(str(many) if word == "MANY" else word for word in words))
    assert done.returncode == 2, done.stderr
    assert done.stdout == b""
    assert done.stderr.count(b"\n") == 1
    assert b"full" in done.stderr
    left = {each.name for each in folder.iterdir() if not each.name.startswith("s.sqlite3")}
    assert left == {"box.toml", "brief.toml"}
    assert inside("parts", "list", "--no-examples", store=folder / "s.sqlite3").stdout == ""


def test_a_full_disk_keeps_an_earlier_demo(tmp_path: Path) -> None:
    earlier = {".boxwright-demo": "old.csv\nreport.pdf\n", "old.csv": "1", "report.pdf": "2"}
    (tmp_path / "out").mkdir()
    for name, text in earlier.items():
        (tmp_path / "out" / name).write_text(text)
    done = limited(tmp_path, 20_000, "demo", "out")
    assert done.returncode == 2
    assert b"full" in done.stderr
    left = {each.name: each.read_text() for each in (tmp_path / "out").iterdir()}
    # the ledger may name files that are not there, never the other way round
    assert set(left.pop(".boxwright-demo").split()) >= {"old.csv", "report.pdf"}
    assert left == {"old.csv": "1", "report.pdf": "2"}


@pytest.mark.parametrize(
    "words", [("predict", "box.toml", "--csv", "--points", "20000"), ("parts", "list", "--json"), ("--help",)]
)
def test_a_closed_pipe_is_no_error(words: tuple[str, ...], folder: Path) -> None:
    process = started(folder, *words)
    assert process.stdout is not None
    assert process.stderr is not None
    process.stdout.readline()
    process.stdout.close()
    said = process.stderr.read()
    assert process.wait(60) in {0, 1}
    assert b"Traceback" not in said
    assert b"Exception" not in said
    assert b"Broken pipe" not in said


@pytest.fixture
def shared() -> Iterator[Path]:
    """A folder that every user can get into, unlike pytest's own."""
    with tempfile.TemporaryDirectory() as name:
        Path(name).chmod(0o755)
        yield Path(name)


def test_without_permission_nothing_is_lost(shared: Path) -> None:
    """In a process of its own that gives up root's rights, if it has them, once everything is imported."""
    save_design(passive_box(), shared / "box.toml")
    with_part = inside(
        "parts", "add", "driver", "name=X", "fs=30", "re=4", "sd=210 cm2", "vas=40 L", "qms=4", "qes=0.4",
        store=shared / "s.sqlite3",
    )  # fmt: skip
    assert with_part.exit_code == 0
    (shared / "secret.toml").write_text("x")
    (shared / "secret.toml").chmod(0)
    (shared / "s.sqlite3").chmod(0o444)
    shared.chmod(0o555)
    before = {each.name for each in shared.iterdir()}
    code = (
        "import os, sys\n"
        "from tests.support.command import inside\n"
        "from pathlib import Path\n"
        "here = Path(sys.argv[1])\n"
        "store = here / 's.sqlite3'\n"
        "inside('predict', here / 'box.toml'); inside('predict', here / 'none.toml')\n"
        "inside('report', here / 'box.toml', '--to', '/dev/null/x.html')\n"
        "inside('parts', 'list', store=store); inside('parts', 'remove', 'driver', 'zz', store=store)\n"
        "inside('parts', 'import', here / 'none.csv', store=store)\n"
        "if os.getuid() == 0: os.setuid(65534)\n"
        "for words in (('predict', here / 'secret.toml'), ('report', here / 'box.toml', '--to', here / 'x.html'),\n"
        "              ('parts', 'remove', 'driver', 'X'), ('parts', 'export', here / 'x.csv'),\n"
        "              ('demo', here), ('parts', 'check', here / 'secret.toml')):\n"
        "    done = inside(*words, store=store)\n"
        "    print(done.exit_code, repr(done.stdout), done.stderr.strip())\n"
        "done = inside('parts', 'list', 'driver', '--no-examples', store=store)\n"
        "print(done.exit_code, 'X ' in done.stdout)\n"
    )
    root = Path(__file__).parents[2]
    done = subprocess.run(
        [sys.executable, "-c", code, str(shared)], capture_output=True, text=True, cwd=root,
        env={**os.environ, "PYTHONPATH": str(root)}, timeout=120, check=False,
    )  # fmt: skip
    shared.chmod(0o755)
    lines = done.stdout.strip().split("\n")
    assert len(lines) == 7, done.stderr
    for line in lines[:-1]:
        assert line.startswith("2 '' boxwright: "), line
        assert "no permission" in line or "read-only" in line or "write-protected" in line, line
    assert lines[-1] == "0 True"
    assert {each.name for each in shared.iterdir()} == before


def test_code_that_cannot_be_kept_is_said(folder: Path) -> None:
    cache = folder / "cache"
    cache.mkdir()
    code = (
        "import resource, signal, sys\n"
        "import boxwright.cli\n"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (100, 100))\n"
        "sys.argv = ['boxwright', 'predict', 'box.toml']\n"
        "boxwright.cli.main()\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=folder, capture_output=True, text=True, check=False,
        env={**os.environ, "NUMBA_CACHE_DIR": str(cache)}, timeout=120,
    )  # fmt: skip
    assert done.returncode == 1
    assert done.stdout == ""
    assert done.stderr.startswith("boxwright: compiled code could not be kept: ")
    assert done.stderr.count("\n") == 1


def test_compiled_code_finds_a_place_of_its_users_own(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("NUMBA_CACHE_DIR", raising=False)
    monkeypatch.setattr(keeping, "_writable", lambda _: False)
    monkeypatch.setattr("tempfile.gettempdir", lambda: str(tmp_path))
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    before = sys.modules["numba"].config.CACHE_DIR if "numba" in sys.modules else None
    try:
        keeping.keep_compiled_code()
        first = Path(os.environ["NUMBA_CACHE_DIR"])
        assert first.parent == tmp_path
        assert stat.S_IMODE(first.stat().st_mode) == 0o700
        # a folder that others may write to is not trusted: what lies there is run
        first.chmod(0o777)
        monkeypatch.delenv("NUMBA_CACHE_DIR")
        keeping.keep_compiled_code()
        assert Path(os.environ["NUMBA_CACHE_DIR"]) != first
    finally:
        if before is not None:
            sys.modules["numba"].config.CACHE_DIR = before


def test_the_usual_places_are_left_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("NUMBA_CACHE_DIR", raising=False)
    monkeypatch.setattr(keeping, "_writable", lambda _: True)
    keeping.keep_compiled_code()
    assert "NUMBA_CACHE_DIR" not in os.environ
