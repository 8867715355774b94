"""boxwright shortlist: every box a brief allows, ranked, with reasons for what fell away."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from boxwright.cli.output import (
    MOST_WORKERS,
    check_result,
    given_path,
    note,
    page_width,
    print_json,
    progress_bar,
    say,
    whole,
    write_result,
)

if TYPE_CHECKING:
    from boxwright.search.shortlist import Routes, Shortlist

__all__ = ["shortlist"]


def shortlist(
    brief: Annotated[str, typer.Argument(metavar="BRIEF", help="A brief file.")],
    save: Annotated[
        int | None,
        typer.Option(
            metavar="N", parser=whole("--save"), help="Write candidate N, as ranked, as a design file."
        ),
    ] = None,
    to: Annotated[
        str | None, typer.Option(metavar="FILE", help="Where --save writes; by default candidate-N.toml.")
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Let --save replace a file.")] = False,
    driver: Annotated[
        list[str] | None,
        typer.Option(
            metavar="NAME", help="Show closed, port or passive for this driver; may be given again."
        ),
    ] = None,
    prove: Annotated[
        int | None,
        typer.Option(
            metavar="N", parser=whole("--prove", most=100), help="Prove the first N candidates at level too."
        ),
    ] = None,
    most: Annotated[
        int,
        typer.Option(metavar="N", parser=whole("--most"), help="How many ranked candidates to print."),
    ] = 12,
    as_json: Annotated[bool, typer.Option("--json", help="Everything as JSON, SI.")] = False,
    workers: Annotated[
        int | None,
        typer.Option(
            metavar="N", parser=whole("--workers", most=MOST_WORKERS), help="Threads; by default one a core."
        ),
    ] = None,
    cluster: Annotated[
        str | None, typer.Option(metavar="URL", help="Let a Dask scheduler do the search: tcp://host:8786.")
    ] = None,
    store: Annotated[
        str | None, typer.Option(metavar="FILE", help="Parts store; by default your own.")
    ] = None,
    no_examples: Annotated[
        bool, typer.Option("--no-examples", help="Leave the bundled example parts out.")
    ] = False,
) -> None:
    """Search every box that a brief allows and rank those that can be built and meet it."""
    from boxwright.errors import InputError

    if to is not None and save is None:
        raise InputError("--to must go with --save, got it alone", mend="add --save N")
    path = to if to is not None else f"candidate-{save}.toml"
    if cluster is not None and not cluster.strip():
        raise InputError('--cluster must be the address of a scheduler, got ""', mend="write tcp://host:8786")
    if save is not None:
        check_result(path, force=force, source=given_path(brief))

    from boxwright import job
    from boxwright.files import blaming, load_brief_with_notes
    from boxwright.parts.store import open_store
    from boxwright.search.run import shortlist as search

    asked, notes = load_brief_with_notes(given_path(brief))
    with open_store(store, include_examples=not no_examples) as opened:
        offer = job.parts_for(asked, opened)
    with progress_bar() as progress, blaming(brief):
        found = search(asked, offer, progress=progress, workers=workers, cluster=cluster)
        proofs = job.proofs_of(
            asked, found.candidates[: prove or 0], offer.sheets, progress=progress, workers=workers
        )
    compared = _named(found, driver) if driver else None
    if save is not None:
        write_result(path, _candidate(found, save), force=force, source=brief)
    if as_json:
        result = found.to_dict()
        result["warnings"] = [*notes, *found.warnings]
        if prove is not None:
            from boxwright.report.proof_words import proof_record

            result["proofs"] = [proof_record(proof) for proof in proofs]
        print_json(result)
    else:
        from boxwright.report.picks import shortlist_text

        say(shortlist_text(found, most=most, routes=compared, notes=notes, width=page_width()).rstrip("\n"))
        if proofs:
            from boxwright.report.proof_text import proofs_text

            say("\n" + proofs_text([c.parts for c in found.candidates], proofs, width=page_width()))
    if save is not None:
        note(f"candidate {save} written to {path}")


def _named(found: Shortlist, names: list[str]) -> list[Routes]:
    """Comparisons of the drivers named; upper and lower case are the same."""
    import difflib

    from boxwright.errors import InputError
    from boxwright.parts.records import name_key

    known = {name_key(routes.driver): routes for routes in found.routes}
    chosen = []
    for name in names:
        if name_key(name) not in known:
            near = difflib.get_close_matches(name_key(name), known, n=3, cutoff=0.3) or list(known)[:3]
            mend = (
                f"the nearest are {', '.join(known[key].driver for key in near)}"
                if near
                else "none was compared"
            )
            raise InputError(f'--driver must be one that the brief offers, got "{name}"', mend=mend)
        chosen.append(known[name_key(name)])
    return chosen


def _candidate(found: Shortlist, number: int) -> bytes:
    """One candidate as the content of a design file."""
    from boxwright.errors import InputError
    from boxwright.files import dumps_design

    if not 1 <= number <= len(found.candidates):
        count = len(found.candidates)
        mend = f"choose 1 to {count}" if count else "no box meets this brief, so there is none to write"
        raise InputError(f"--save must be the number of a candidate, got {number}", mend=mend)
    return dumps_design(found.candidates[number - 1].design).encode()
