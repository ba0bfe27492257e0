"""The spoil board as jobs leave it: how deep each cut into it, kept in the shop's bed.toml."""

from pathlib import Path

import tomlkit

from kerfwright.fixture.read_bed import load_bed
from kerfwright.workshop import replace_keeping_old

MOST_CUTS = 60  #: jobs; beyond them the deepest of the older ones stands for all of those
_OLDER = "older jobs"


def keep_cut(bed_file: Path, job: str, deepest_mm: float) -> Path | None:
    """Add what a job cuts into the spoil board to bed.toml.

    Parameters
    ----------
    bed_file : Path
        That of the workshop. All else in it stays as it is, and the old file is kept beside it.
    job : str
        Cut again, a job is kept once, with its deeper cut.
    deepest_mm : float
        Below what the board lies on. [mm]

    Returns
    -------
    Path or None
        The file, or None where there was nothing to add.
    """
    spoil = load_bed(bed_file).spoil_board
    if spoil is None or not deepest_mm > 0.0:
        return None
    cuts = [*spoil.cuts, (job, round(deepest_mm, 3))]
    deepest: dict[str, float] = {}
    for name, deep in cuts:
        deepest[name] = max(deep, deepest.get(name, 0.0))
    if len(deepest) > MOST_CUTS:
        names = list(deepest)
        older = [name for name in names if name in names[: 1 - MOST_CUTS] or name == _OLDER]
        whole = max(deepest[name] for name in older)
        deepest = {_OLDER: whole} | {n: d for n, d in deepest.items() if n not in older}
    document = tomlkit.parse(bed_file.read_text(encoding="utf-8"))
    section = document["spoil_board"]
    rows = tomlkit.array().multiline(len(deepest) > 1)
    for name, deep in deepest.items():
        row = tomlkit.inline_table()
        row.update({"job": name, "deepest": f"{deep:g} mm"})
        rows.append(row)
    section["cuts"] = rows
    text = tomlkit.dumps(document)
    if text == bed_file.read_text(encoding="utf-8"):
        return None
    replace_keeping_old(bed_file, text)
    return bed_file
