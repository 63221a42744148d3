"""The bench's sums and facts behind their pages: a form in, results in words and figures out; the printed record."""
