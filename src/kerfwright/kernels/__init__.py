"""Compiled inner loops, each beside its plain reference."""
