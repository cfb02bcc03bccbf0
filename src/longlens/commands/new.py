"""``longlens new``: an empty dossier."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from longlens.commands.console import BY, DossierFile, Json, emit, tell


def new(
    path: DossierFile,
    name: Annotated[str, typer.Option("--name", help="The vehicle's name. Default: the file's.")] = "",
    maker: Annotated[str, typer.Option("--maker", help="Who makes it.")] = "",
    as_json: Json = False,
) -> None:
    """Make an empty dossier for one vehicle. Never overwrites."""
    from longlens.dossier.records import Vehicle
    from longlens.dossier.store import Dossier

    path = with_suffix(path)
    with Dossier.create(path, Vehicle(name=name or path.stem, maker=maker), by=BY) as dossier:
        vehicle = dossier.vehicle
    if as_json:
        emit({"file": str(path), "vehicle": vehicle.model_dump(exclude={"id"})})
    else:
        tell(f"{path}: a new dossier of {vehicle.name}. Next: longlens add {path} PHOTOGRAPH …")


def with_suffix(path: Path) -> Path:
    """A dossier's name ends in .longlens, typed or not."""
    return path if path.suffix == ".longlens" else path.with_name(f"{path.name}.longlens")


def attach(app: typer.Typer) -> None:
    app.command("new")(new)
