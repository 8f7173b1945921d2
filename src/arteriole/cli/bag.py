"""``arteriole bag``: a case bag checked, or opened as the study it was."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from arteriole.cli.outputs import write_file
from arteriole.errors import OptionError, UnreadableRecording

if TYPE_CHECKING:
    from arteriole.exchange.bag import CaseBag

ACTS = ("verify", "open", "keep")
EXIT_WITHHELD = 4


def command(
    act: Annotated[
        str, typer.Argument(metavar="verify|open|keep", help="What to do with the bag.")
    ],
    folder: Annotated[Path, typer.Argument(metavar="BAG", help="A case bag, a folder.")],
    json: Annotated[
        str | None, typer.Option(metavar="FILE|-", help="open: write the result document.")
    ] = None,
    html: Annotated[
        Path | None, typer.Option(metavar="FILE", help="open: write the study page.")
    ] = None,
    pdf: Annotated[
        Path | None, typer.Option(metavar="FILE", help="open: write the Letter.")
    ] = None,
    paper: Annotated[str, typer.Option(metavar="a4|letter", help="Paper of the PDF.")] = "a4",
    template: Annotated[
        str | None, typer.Option(metavar="NAME|FILE", help="Words, order, logo of the Letter.")
    ] = None,
    store: Annotated[
        str, typer.Option(help="keep: where studies are kept, as for arteriole serve.")
    ] = "",
    quiet: Annotated[bool, typer.Option("--quiet", help="No summary.")] = False,
) -> int:
    """Check a case bag, open it, or keep it: analyse anew and compare with its result.

    verify compares every checksum (RFC 8493). open does that too, then reads, measures and decides
    as it was done, and says whether the result is the same, byte for byte; where it is not, the
    exit code is 3. keep puts the study with every edit into a store, for arteriole serve, and
    compares as well. A bag is written by arteriole analyse --bag FOLDER.

    Example: arteriole bag open case-bag --json case.json
    """
    from arteriole.cli.exports import Asked, Case, check_forms, template_of, write_exports
    from arteriole.document import canonical_bytes
    from arteriole.exchange.bag import read_bag
    from arteriole.exchange.restore import restored

    if act not in ACTS:
        raise OptionError(f"{act!r} is not known; allowed: {', '.join(ACTS)}. Choose one of them.")
    asked = Asked(html=html, pdf=pdf)
    check_forms(asked, paper)
    words = template_of(template)
    bag = read_bag(folder)
    names = ", ".join(p.name for p in bag.recordings)
    typer.echo(f"{folder}: every checksum is right; recordings: {names}", err=True)
    if act == "verify":
        return 0
    if act == "keep":
        return _keep(bag, folder, store)
    study = restored(bag)
    case = Case(
        result=study.result, measurement=study.measurement, sheet=bag.sheet, edits=bag.edits
    )
    if json == "-":
        sys.stdout.write(canonical_bytes(study.result).decode())
    elif json is not None:
        write_file(Path(json), canonical_bytes(study.result))
    if asked.any:
        write_exports(
            asked, case, lambda text: typer.echo(text, err=True), paper=paper, template=words
        )
    if not quiet and json != "-":
        from arteriole.report.summary import print_summary

        print_summary(study.result)
    if study.difference:
        raise UnreadableRecording(
            f"Bag {folder}: {study.difference}; the same software and files give the same bytes. "
            "Use the version that wrote it to compare."
        )
    typer.echo("the result is the same, byte for byte", err=True)
    return EXIT_WITHHELD if study.result.all_withheld else 0


def _keep(bag: "CaseBag", folder: Path, store: str) -> int:
    from arteriole.cli.serve import own_store
    from arteriole.exchange.keep import kept
    from arteriole.store import open_store

    place = open_store(store or str(own_store()))
    try:
        one = kept(bag, place, who="arteriole bag keep")
    finally:
        place.close()
    typer.echo(f"kept as study {one.row.id}: {one.row.title}", err=True)
    if one.difference:
        raise UnreadableRecording(f"Bag {folder} is kept, but {one.difference}. Look at both.")
    typer.echo("the result is the same, byte for byte", err=True)
    return 0
