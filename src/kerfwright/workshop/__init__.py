"""The workshop on disk: folder, shop log, versions, stage cache."""

from kerfwright.workshop.demo import (
    Planted,
    copy_demo,
    copy_workshop,
    demo_folder,
    open_demo,
    planted_in,
)
from kerfwright.workshop.folder import JobFolder, Workshop, create_workshop, open_workshop
from kerfwright.workshop.keep_old import replace_keeping_old
from kerfwright.workshop.shop_log import (
    Acceptance,
    Cut,
    Entry,
    LogError,
    Size,
    Went,
    accept_finding,
    history,
    open_log,
    record_outcome,
    record_proof,
)
from kerfwright.workshop.stage_cache import StageCache, stage_key

__all__ = [
    "Acceptance",
    "Cut",
    "Entry",
    "JobFolder",
    "LogError",
    "Planted",
    "Size",
    "StageCache",
    "Went",
    "Workshop",
    "accept_finding",
    "copy_demo",
    "copy_workshop",
    "create_workshop",
    "demo_folder",
    "history",
    "open_demo",
    "open_log",
    "open_workshop",
    "planted_in",
    "record_outcome",
    "record_proof",
    "replace_keeping_old",
    "stage_key",
]
