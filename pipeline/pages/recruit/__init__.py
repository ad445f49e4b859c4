"""The page for a recruiter: made, issued, checked."""
