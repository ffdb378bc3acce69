"""Results on disk: whole files or none, with schema versions."""
