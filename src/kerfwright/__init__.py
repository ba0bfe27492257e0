"""Kerfwright proves a cutting job on the router its user built.

The rooms and the flow between them are described in ``docs/architecture.md``.
"""

__version__ = "0.1.0"
