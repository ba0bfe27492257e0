"""Which errands the command line knows. Only the module of the one that is wanted is loaded."""

from collections.abc import Sequence
from importlib import import_module

import typer

_MODULES = {
    "prove": "prove_command",
    "demo": "demo_command",
    "prepare": "prove_command",
    "time": "time_command",
    "moves": "moves_command",
    "machine": "machine_command",
    "describe": "describe_command",
    "stalls": "stalls_command",
    "handbook": "handbook_command",
    "open": "open_command",
}


def add_to(app: typer.Typer, arguments: Sequence[str]) -> None:
    """Register the command that the arguments begin with; every one, if they begin with none."""
    wanted = _MODULES.get(arguments[0]) if arguments else None
    for name in [wanted] if wanted else dict.fromkeys(_MODULES.values()):
        import_module(f"kerfwright.app.{name}").add_to(app)
