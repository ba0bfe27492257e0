"""``kerfwright demo``."""

from pathlib import Path
from typing import Annotated

import typer

from kerfwright.app.exits import INPUT_TO_MEND, NOTHING_STOPS_IT
from kerfwright.app.outputs import check_outputs
from kerfwright.app.prove_command import in_worker, threads
from kerfwright.jobs.prove_errand import DEMO, Errand


def add_to(app: typer.Typer) -> None:
    """Register the command."""
    app.command("demo")(demo)


def demo(
    out: Annotated[Path, typer.Option(help="Folder for the results.")] = Path("out/demo"),
) -> None:
    """Prove the jobs of the Alder Lane Workshop, which is invented, on its router."""
    from kerfwright.workshop import demo_folder, open_demo  # heavy

    check_outputs(out)
    workshop = open_demo()
    failed = False
    for job in workshop.jobs():
        print(f"{job.name}: proving it on the workshop's router ...", flush=True)
        told = in_worker(
            Errand(
                program=job.program_file(),
                job=job.job_file,
                machine=DEMO,
                out=out / job.name,
                threads=threads(),
            )
        )
        print(f"{job.name}: {told.sentence}")
        for file in told.files:
            print(f"  {file}")
        failed |= told.outcome == "stop"
    if failed:
        print(f"A job of the demo is stopped, which should not be; it lies in {demo_folder()}")
    raise typer.Exit(INPUT_TO_MEND if failed else NOTHING_STOPS_IT)
