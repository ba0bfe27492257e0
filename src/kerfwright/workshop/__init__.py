"""The workshop on disk: folder, shop log, versions, stage cache."""
