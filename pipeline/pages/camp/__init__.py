"""The review of one camp for its director: one model; screen, sheet, CSV and workbook are made of it."""
