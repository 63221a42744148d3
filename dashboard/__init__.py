"""Pages for a phone beside the cooker."""
