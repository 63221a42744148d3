"""The watch beside the cooker: readings in, recordings kept, progress estimated."""
