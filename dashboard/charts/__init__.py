"""Pure functions: one view in, one chart (Altair) or one drawing (SVG text) out."""
