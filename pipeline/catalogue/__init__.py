"""What is measured, declared once: units, measures, conditions. No data, no clock, no files but its own."""
