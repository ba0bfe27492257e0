"""Handbook formulas: numbers or arrays in, numbers or arrays out."""
