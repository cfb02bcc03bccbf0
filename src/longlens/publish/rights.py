"""Which photographs may go out: nothing is shown without credit, licence and somebody's word that it may be."""

from __future__ import annotations

from longlens.dossier.records import Shot


def withheld(shot: Shot) -> str:
    """Why a shot may not be shown, in words; empty when it may."""
    if shot.photograph is None:
        return "the photograph itself is not in the dossier"
    if shot.may_show == "no":
        return "it may not be shown"
    missing = [
        name for name, value in (("credit", shot.credit), ("licence", shot.licence)) if not (value or "").strip()
    ]
    if missing:
        return f"it has no {' and no '.join(missing)}"
    if shot.may_show != "yes":
        return "nobody has said yet that it may be shown"
    return ""
