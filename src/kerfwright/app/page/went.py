"""What really happened when a job was cut, as the shop log has it."""

from typing import Any

from kerfwright.app.page.shop import Shop
from kerfwright.basics import KerfwrightError
from kerfwright.report.figures import amount, clean, duration
from kerfwright.workshop import Cut, history
from kerfwright.workshop.folder import JobFolder

_WENT = {
    "well": "Went well",
    "stalled": "The machine stalled",
    "spoiled": "The part was spoiled",
    "stopped": "Stopped by hand",
}


def went_of(shop: Shop, job: JobFolder) -> list[dict[str, Any]]:
    """All that was noted of a job, the newest first."""
    if shop.workshop.read_only or not (shop.workshop.folder / "log.sqlite").is_file():
        return []
    try:
        with shop.workshop.log() as log:
            cuts = [cut for entry in history(log, job=job.name) for cut in entry.cuts]
    except KerfwrightError:
        return []  # the log's own words come when something is to be written into it
    cuts.sort(key=lambda cut: (cut.at, cut.id), reverse=True)
    return [{"at": cut.at.isoformat(), "words": _words(cut), "shrunk": []} for cut in cuts]


def _words(cut: Cut) -> str:
    words = _WENT[cut.went]
    if cut.took_s is not None:
        words += f"; took {duration(cut.took_s)}"
    for size in cut.sizes:
        words += f"; {size.name} {amount(size.found_mm, 'mm')}"
    return clean(f"{words}; {cut.notes}" if cut.notes else words)
