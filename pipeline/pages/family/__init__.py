"""The page for an athlete and the family: plain words, few numbers, cautions; printed or on a phone."""
