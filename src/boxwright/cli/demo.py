"""boxwright demo: the whole job on the bundled example, every file written to a folder."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from boxwright.cli.output import MOST_WORKERS, given_path, print_json, progress_bar, say, together, whole

if TYPE_CHECKING:
    from pathlib import Path

__all__ = ["demo"]

# Lists what a demo wrote, so that a later one may replace it and nothing else.
LEDGER = ".boxwright-demo"
EXAMPLE = "cinema-trailer.toml"


def demo(
    folder: Annotated[
        str, typer.Argument(metavar="FOLDER", help="Where to; made if it is not there.")
    ] = "demo",
    force: Annotated[
        bool, typer.Option("--force", help="Write into a folder that holds other files, and over them.")
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print the list of files as JSON.")] = False,
    workers: Annotated[
        int | None,
        typer.Option(
            metavar="N", parser=whole("--workers", most=MOST_WORKERS), help="Threads; by default one a core."
        ),
    ] = None,
) -> None:
    """Do the whole job on the bundled example, with invented parts, and write every file to FOLDER."""
    from importlib import resources
    from pathlib import Path

    target = Path(given_path(folder))
    own = _ledger(target)
    _check_folder(target, own, force=force)

    from boxwright import job
    from boxwright.files import loads_brief_with_notes
    from boxwright.parts.store import Store

    text = (resources.files("boxwright") / "data" / "example" / EXAMPLE).read_text(encoding="utf-8")
    brief, notes = loads_brief_with_notes(text, place=EXAMPLE)
    with progress_bar() as progress:
        # the examples alone: the demo's outcome does not depend on what is in the user's store
        with Store(target / "no-store.sqlite3", include_examples=True) as store:
            done = job.run(brief, store, notes=notes, progress=progress, workers=workers)
        # made in full before the first is written: whoever stops it finds the folder as it was
        files = dict(job.files_of(done, progress))
    files["brief.toml"] = text.encode()  # as it came, with its comments
    _check_names(target, files, own, force=force)
    with together():
        _write_all(target, files, own)
    if as_json:
        print_json({"folder": str(target), "files": sorted(files)})
        return
    say(done.story)
    say(f"\n{len(files)} files in {target}:")
    for name, what in _words(files):
        say(f"  {name:<26} {what}")


def _words(files: dict[str, bytes]) -> list[tuple[str, str]]:
    """The files in groups, each with what it is."""
    fixed = {
        "brief.toml": "what was asked",
        "shortlist.txt": "the shortlist in words: best in each, ranking, reasons, closed or port or passive",
        "shortlist.json": "the same for programs",
        "candidates.csv": "the ranked candidates as a table",
        "front.png": "air inside against reach, as a picture",
        "front.svg": "the same, to scale without loss",
        "report.pdf": "the balanced pick as a document to hand on",
        "report.html": "the same as one web page",
        "proof.pdf": "its proof: level at level, distortion, bursts, heat, recoil, panels, spread",
        "proof.json": "the same for programs",
    }
    found = [(name, what) for name, what in fixed.items() if name in files]
    picks = [name.removesuffix(".toml") for name in files if name.endswith(".toml") and name != "brief.toml"]
    found += [(f"{pick}.toml .json .csv", f"the {pick} box: design file, its curves twice") for pick in picks]
    return found


def _ledger(folder: Path) -> set[str]:
    """Names of the files that an earlier demo wrote there: plain names only, whatever the ledger says."""
    from pathlib import Path

    from boxwright.errors import InputError
    from boxwright.files.reading import read_text

    try:
        if not (folder / LEDGER).is_file():
            return set()
        lines = read_text(folder / LEDGER).splitlines()
    except (InputError, OSError, ValueError):
        return set()
    return {line for line in lines if line and Path(line).name == line and line not in {".", "..", LEDGER}}


def _check_folder(folder: Path, own: set[str], *, force: bool) -> None:
    """Refuse what cannot become the demo's folder before the work begins."""
    import os

    from boxwright.errors import InputError

    place = str(folder)
    try:
        if not folder.exists():
            return
        if not folder.is_dir():
            raise InputError("FOLDER must be a folder, got a file", place=place, mend="name another")
        strangers = sorted(entry.name for entry in folder.iterdir() if entry.name not in {LEDGER, *own})
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError(
            f"FOLDER cannot be used: {reason}", place=repr(place), mend="name another"
        ) from error
    if not os.access(folder, os.W_OK):
        raise InputError("FOLDER cannot be written: no permission", place=place, mend="name another")
    if strangers and not own and not force:
        raise InputError(
            f"FOLDER must be empty or hold an earlier demo, got one with {strangers[0]}", place=place,
            mend="name another, or add --force",
        )  # fmt: skip


def _check_names(folder: Path, files: dict[str, bytes], own: set[str], *, force: bool) -> None:
    from boxwright.errors import InputError

    folders = [name for name in files if (folder / name).is_dir()]
    if folders:
        raise InputError(
            f"{folders[0]} must be a file, got a folder",
            place=str(folder),
            mend="move it away, or name another",
        )
    foreign = [name for name in files if name not in own and (folder / name).exists()]
    if foreign and not force:
        raise InputError(
            f"{foreign[0]} must be new, got one that this demo did not write",
            place=str(folder),
            mend="add --force",
        )


def _write_all(target: Path, files: dict[str, bytes], own: set[str]) -> None:
    """Write every file beside its place first, so that a disk that fills up leaves the folder as it was."""
    import contextlib
    import shutil
    import tempfile
    from pathlib import Path

    from boxwright.atomic import atomic_write

    was_there = target.exists()
    _make_folder(target)
    ledger = "".join(f"{name}\n" for name in sorted(files)).encode()
    new = None
    try:
        # a ledger that names the old files and the new ones holds whichever of them are there
        atomic_write(target / LEDGER, "".join(f"{name}\n" for name in sorted({*files, *own})).encode())
        new = Path(tempfile.mkdtemp(prefix=".new-", dir=target))
        for name, data in {**files, LEDGER: ledger}.items():
            atomic_write(new / name, data)
        for name in own - set(files):
            (target / name).unlink(missing_ok=True)
        for name in (*files, LEDGER):
            (new / name).replace(target / name)
    except BaseException:
        with contextlib.suppress(OSError):
            if not own:
                (target / LEDGER).unlink()
        raise
    finally:
        if new is not None:
            shutil.rmtree(new, ignore_errors=True)
        if not was_there:
            with contextlib.suppress(OSError):
                target.rmdir()  # only if nothing came to be in it


def _make_folder(folder: Path) -> None:
    from boxwright.errors import InputError

    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(
            f"FOLDER cannot be made: {error.strerror}", place=str(folder), mend="name another"
        ) from error
