"""Published data as text files, each with its source beside it."""
