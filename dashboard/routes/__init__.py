"""Addresses that answer data or log a fact, each once for an id; the pages send to them."""
