"""The local page's server: state and answers in plain functions, the web framework around them.

Only this room imports the web framework. ``page/src/wire.ts`` says what crosses the wire.
"""
