"""A second reader of the language: slow, plain, and sharing nothing with the package.

Written from the clauses of NISTIR 6556 (as listed in ``docs/models/program.md``) and from the
vectors' conventions alone, so that two readings of one text can be held together. Where the
standard is silent it takes the choices stated on that page. Standard library only.
"""

from .follow import Read, read
from .lines import Fault

__all__ = ["Fault", "Read", "read"]
