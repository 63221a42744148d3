"""The bench's pages: which fields each has, what stands in them at first, and how its results are laid out."""
