"""``longlens import``, ``export`` and ``schema``: the exchange form."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from longlens.commands.console import BY, DossierFile, Json, emit, opened, say, tell


class Form(StrEnum):
    """The open forms that have a schema."""

    exchange = "exchange"


Stage = Annotated[str | None, typer.Option("--stage", help="Stage of the vehicle.")]


def import_(
    path: DossierFile,
    document: Annotated[Path, typer.Argument(metavar="FILE.json", help="An exchange document.", show_default=False)],
    stage: Stage = None,
    as_json: Json = False,
) -> None:
    """Write an exchange document into a dossier, as one step; the dossier is made when it is not there."""
    from longlens.commands.new import with_suffix
    from longlens.dossier.exchange import read_exchange
    from longlens.dossier.from_exchange import from_exchange
    from longlens.dossier.records import Vehicle
    from longlens.dossier.store import Dossier

    read, remarks = read_exchange(document)
    say(*remarks)
    if not path.exists():
        path = with_suffix(path)
    if not path.exists():
        Dossier.create(path, Vehicle(name=read.vehicle.name), by=BY).close()
    with opened(path) as dossier:
        done = from_exchange(dossier, read, stage=stage)
    say(*done.remarks)
    if as_json:
        emit({"file": str(path), "made": done.made, "changed": done.changed})
        return
    for word, counts in (("made", done.made), ("changed", done.changed)):
        if counts:
            tell(f"{word}: " + ", ".join(f"{n} {kind}{'s' if n != 1 else ''}" for kind, n in counts.items()))
    if not done.made and not done.changed:
        tell("nothing new: the dossier had all of it")


def export(
    path: DossierFile,
    stage: Stage = None,
    edition: Annotated[str | None, typer.Option("--edition", help="A frozen state, by its name.")] = None,
    to: Annotated[Path | None, typer.Option("--to", help="Write to this file. Default: standard output.")] = None,
    as_json: Json = False,
) -> None:
    """Write the dossier, or one stage of it, as an exchange document (always JSON)."""
    from longlens.dossier.editions import read_edition
    from longlens.dossier.exchange import write_exchange
    from longlens.dossier.to_exchange import to_exchange

    with opened(path) as dossier:
        reader = dossier if edition is None else read_edition(dossier, edition)
        document = write_exchange(to_exchange(reader, stage=stage))
    if to is None:
        emit(document)
        return
    _write_json(to, document)
    if as_json:
        emit({"file": str(to)})
    else:
        tell(f"{to}: written")


def schema(
    form: Annotated[Form, typer.Argument(help="Which form.")] = Form.exchange,
    as_json: Json = False,
) -> None:
    """Print the JSON Schema of an open form (always JSON)."""
    from longlens.dossier.exchange import exchange_schema

    emit(exchange_schema())


def _write_json(path: Path, data: object) -> None:
    import json

    from longlens.errors import UnusableInput

    try:
        path.write_text(json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False) + "\n", encoding="utf-8")
    except OSError as e:
        raise UnusableInput(f"cannot be written ({e.strerror})", where=str(path), fix="check the folder") from None


def attach(app: typer.Typer) -> None:
    app.command("import")(import_)
    app.command("export")(export)
    app.command("schema")(schema)
