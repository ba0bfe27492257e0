"""What a waiting process loads by itself, by name: nothing of it is loaded here."""


def load_modules() -> None:
    """For a spare process: all that a proof for the page imports."""
    import kerfwright.jobs.show_proof  # noqa: F401


def load_reading() -> None:
    """For one that waits for a proof from the command line: what reads a program."""
    import kerfwright.jobs.read_for_proof  # noqa: F401


def load_proof() -> None:
    """The same for what proves it."""
    import kerfwright.jobs.prove_program
    import kerfwright.report.verdict_file  # noqa: F401


def load_kernels() -> None:
    """The same for what was compiled before: a tiny proof calls it all."""
    from kerfwright.jobs.prepare import prove_little
    from kerfwright.kernels.cache_folder import is_prepared

    if is_prepared():
        prove_little()
