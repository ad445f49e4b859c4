"""What the glossary page lists."""
