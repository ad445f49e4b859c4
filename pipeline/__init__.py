"""From device files to stored results: catalogue, stats, warehouse, ingest, each importing only downwards."""
