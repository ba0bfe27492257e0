"""``kerfwright demo``."""

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from kerfwright.app.errands import run_proofs
from kerfwright.app.exits import INPUT_TO_MEND, NOTHING_STOPS_IT
from kerfwright.app.outputs import check_outputs
from kerfwright.app.progress_line import progress_line
from kerfwright.app.prove_command import threads
from kerfwright.jobs.prove_errand import DEMO, Errand, Told
from kerfwright.jobs.worker import run

if TYPE_CHECKING:  # a command must start at once
    from kerfwright.workshop import Planted


#: Coarser than a proof would choose for these cutters: the demo shows quickly what it shows.
CELL_MM = 0.2


def add_to(app: typer.Typer) -> None:
    """Register the command."""
    app.command("demo")(demo)


def demo(
    out: Annotated[Path, typer.Option(help="Folder for the results.")] = Path("out/demo"),
) -> None:
    """Prove the jobs of the Alder Lane Workshop, which is invented, on its router."""
    from kerfwright.workshop import demo_folder, open_demo, planted_in  # heavy

    check_outputs(out)
    jobs = open_demo().jobs()
    print(f"Proving {len(jobs)} jobs on the router of the Alder Lane Workshop ...", flush=True)
    errands = tuple(
        Errand(
            program=job.program_file(),
            job=job.job_file,
            machine=DEMO,
            cell_mm=CELL_MM,
            out=out / job.name,
            threads=threads(),
        )
        for job in jobs
    )
    with progress_line() as progress:
        proved = run(run_proofs, errands, on_progress=progress, folders=[out, out.parent])
    failed = False
    for job, told in zip(jobs, proved, strict=True):
        print(f"{job.name}: {told.sentence}")
        wrong = _against_planted(told, planted_in(job))
        for words in wrong:
            print(f"  {words}")
        failed |= bool(wrong)
        for file in told.files:
            print(f"  {file}")
    if failed:
        print(f"The demo did not come out as it should; it lies in {demo_folder()}")
    raise typer.Exit(INPUT_TO_MEND if failed else NOTHING_STOPS_IT)


def _against_planted(told: Told, planted: "tuple[Planted, ...]") -> list[str]:
    """Print the faults planted in a job and found; return in words what is not as planted."""
    if not planted:
        return ["it is stopped, and no fault was planted in it"] if told.outcome == "stop" else []
    found = [
        (finding["code"], finding["severity"], finding["line"])
        for finding in json.loads(told.json_text)["findings"]
        if finding["severity"] != "note"
    ]
    wrong = []
    print(f"  {len(planted)} faults were planted in it:")
    for fault in planted:
        key = (fault.code, fault.severity, fault.line)
        if key in found:
            found.remove(key)
            print(f"  line {fault.line}: {fault.words}: found")
        else:
            wrong.append(f"line {fault.line}: {fault.words}: not found")
    return wrong + [f"line {line}: {code}: found, and not planted" for code, _, line in found]
