"""The pages: now, past cooks, one cook replayed. Each has ``layout``, which Dash calls for every visit."""
