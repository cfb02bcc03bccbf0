"""The one short tree of errors a user can meet. Each says where, what, and what to do about it."""

from __future__ import annotations


class LonglensError(Exception):
    """Root of the tree; ``exit_status`` is what the command line leaves with.

    Parameters
    ----------
    what : what is wrong, in the user's words.
    where : the place: a file, a field, a record, a shot.
    fix : what to do about it.
    """

    exit_status = 1

    def __init__(self, what: str, *, where: str = "", fix: str = "") -> None:
        self.what, self.where, self.fix = what, where, fix
        text = f"{where}: {what}" if where else what
        super().__init__(f"{text} — {fix}" if fix else text)


class UnusableInput(LonglensError):
    """What was given cannot be used: a field that does not fit, a broken file, a missing record."""

    exit_status = 2


class NotSolvable(LonglensError):
    """The marks do not determine what was asked; ``needs`` says what would."""

    exit_status = 3

    def __init__(self, what: str, *, needs: list[str], where: str = "") -> None:
        super().__init__(what, where=where, fix="; ".join(needs))
        self.needs = needs


class NewerFile(UnusableInput):
    """The dossier was written by a newer version; nothing in it was touched."""
