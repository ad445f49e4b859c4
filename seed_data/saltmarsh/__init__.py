"""The invented Saltmarsh Lantern Academy: people, processes, files and planted errors."""
