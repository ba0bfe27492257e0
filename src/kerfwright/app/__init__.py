"""Command line: arguments in, words and pictures out."""
