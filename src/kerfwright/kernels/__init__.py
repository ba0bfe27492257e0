"""Compiled inner loops, each beside its plain reference."""

from kerfwright.kernels.cache_folder import choose_cache_folder

# Before any module of this room brings the compiler in: it reads the folder once, at its import.
choose_cache_folder()
