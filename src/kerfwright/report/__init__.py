"""Verdict files and pictures: reads results, computes nothing."""
